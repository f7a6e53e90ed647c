#pragma once
// A plain client over a socket of this machine, which can also send what no client would.

#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <chrono>
#include <cstdint>
#include <map>
#include <stdexcept>
#include <string>

namespace layproof::server::testing {

struct Reply {
    int status = 0;                              ///< 0: none came
    std::map<std::string, std::string> headers;  ///< names in lower case
    std::string body;
};

/// After so long nothing is believed to come any more. A test that passes never waits for it.
constexpr std::chrono::minutes kPatience{5};

class Client {
public:
    explicit Client(std::uint16_t port) : port_(port) {
        fd_ = socket(AF_INET, SOCK_STREAM, 0);
        sockaddr_in where{};
        where.sin_family = AF_INET;
        where.sin_port = htons(port);
        where.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        if (connect(fd_, reinterpret_cast<const sockaddr*>(&where), sizeof where) != 0)
            throw std::runtime_error("no connection");
    }
    ~Client() { close(fd_); }
    Client(const Client&) = delete;
    Client& operator=(const Client&) = delete;

    /// False when the other side no longer takes it.
    bool send(const std::string& bytes) const {
        std::size_t sent = 0;
        while (sent < bytes.size()) {
            const ssize_t n = ::send(fd_, bytes.data() + sent, bytes.size() - sent, MSG_NOSIGNAL);
            if (n <= 0) return false;
            sent += static_cast<std::size_t>(n);
        }
        return true;
    }

    /// Reads until `piece` has come, the connection has ended or the time is over; what came so
    /// far.
    const std::string& read_until(const std::string& piece) {
        const auto end = std::chrono::steady_clock::now() + kPatience;
        while (got_.find(piece) == std::string::npos && read_some(end)) {
        }
        return got_;
    }

    /// True once the other side has closed.
    bool is_closed() {
        const auto end = std::chrono::steady_clock::now() + kPatience;
        while (read_some(end)) {
        }
        return has_ended_;
    }

    Reply read_reply(bool has_body = true) {
        read_until("\r\n\r\n");
        Reply out;
        const std::size_t head_end = got_.find("\r\n\r\n");
        if (head_end == std::string::npos) return out;
        const std::string head = got_.substr(0, head_end + 2);
        got_.erase(0, head_end + 4);
        out.status = std::stoi(head.substr(9, 3));
        std::size_t at = head.find("\r\n") + 2;
        while (at < head.size()) {
            const std::size_t line_end = head.find("\r\n", at);
            const std::size_t colon = head.find(": ", at);
            std::string name = head.substr(at, colon - at);
            for (char& c : name) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
            out.headers[name] = head.substr(colon + 2, line_end - colon - 2);
            at = line_end + 2;
        }
        if (!has_body || !out.headers.contains("content-length")) return out;
        const std::size_t size = std::stoul(out.headers["content-length"]);
        const auto end = std::chrono::steady_clock::now() + kPatience;
        while (got_.size() < size && read_some(end)) {
        }
        out.body = got_.substr(0, size);
        got_.erase(0, size);
        return out;
    }

    std::string host() const { return "127.0.0.1:" + std::to_string(port_); }

    static std::string line(const std::string& method, const std::string& target) {
        return method + " " + target + " HTTP/1.1\r\n";
    }

    Reply get(const std::string& target, const std::string& more = "") {
        send(line("GET", target) + "Host: " + host() + "\r\n" + more + "\r\n");
        return read_reply();
    }

    std::string post_text(const std::string& target, const std::string& body,
                          const std::string& more = "Content-Type: application/json\r\n") const {
        return line("POST", target) + "Host: " + host() + "\r\n" + more +
               "Content-Length: " + std::to_string(body.size()) + "\r\n\r\n" + body;
    }

    Reply post(const std::string& target, const std::string& body,
               const std::string& more = "Content-Type: application/json\r\n") {
        send(post_text(target, body, more));
        return read_reply();
    }

private:
    bool read_some(std::chrono::steady_clock::time_point end) {
        const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(
            end - std::chrono::steady_clock::now());
        if (left.count() <= 0 || has_ended_) return false;
        pollfd waiting{fd_, POLLIN, 0};
        if (poll(&waiting, 1, static_cast<int>(left.count())) <= 0) return false;
        char bytes[65536];
        const ssize_t n = recv(fd_, bytes, sizeof bytes, 0);
        if (n <= 0) {
            has_ended_ = true;
            return false;
        }
        got_.append(bytes, static_cast<std::size_t>(n));
        return true;
    }

    std::uint16_t port_;
    int fd_ = -1;
    std::string got_;
    bool has_ended_ = false;
};

}  // namespace layproof::server::testing
