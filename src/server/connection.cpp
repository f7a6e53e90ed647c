#include "server/connection_internal.hpp"

#include <fmt/format.h>

#include <array>
#include <boost/asio/post.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/http/read.hpp>
#include <limits>

#include "server/site.hpp"

namespace layproof::server::internal {
namespace {

constexpr std::size_t kMostLingering = std::size_t{32} << 20U;

std::string text_of(boost::string_view view) {
    return {view.data(), view.size()};
}

std::string_view reason_of(int status) {
    const auto view = http::obsolete_reason(static_cast<http::status>(status));
    return {view.data(), view.size()};
}

}  // namespace

void Connection::start() {
    error_code ignored;
    stream_.socket().set_option(tcp::no_delay(true), ignored);
    read_head();
}

void Connection::wait_for_next() {
    parser_.reset();
    if (buffer_.size() > 0) return read_head();
    stream_.expires_after(shared_.waits.idle);
    stream_.async_read_some(buffer_.prepare(4096),
                            [self = shared_from_this()](error_code error, std::size_t bytes) {
                                if (error) return self->close();
                                self->buffer_.commit(bytes);
                                self->read_head();
                            });
}

void Connection::read_head() {
    parser_.emplace();
    parser_->header_limit(static_cast<std::uint32_t>(Transport::kLargestHead));
    // The site says how large once it has seen the head.
    parser_->body_limit(std::numeric_limits<std::uint64_t>::max());
    stream_.expires_after(shared_.waits.head);
    http::async_read_header(
        stream_, buffer_, *parser_,
        [self = shared_from_this()](error_code error, std::size_t) { self->on_head(error); });
}

void Connection::on_head(error_code error) {
    request_ = {};
    if (error) {
        // What is no HTTP gets an answer, if there is anybody to take it.
        const bool is_protocol =
            error.category() == http::make_error_code(http::error::end_of_stream).category() &&
            error != http::error::end_of_stream && error != http::error::partial_message;
        if (!is_protocol) return close();
        keep_ = false;
        const bool is_long = error == http::error::header_limit;
        return write(shared_.site->refuse(
            request_, is_long ? 431 : 400,
            {is_long ? ErrorCode::request_too_large : ErrorCode::request_malformed,
             {},
             is_long ? "a very long head of a request" : "something that is no HTTP request",
             is_long ? fmt::format("at most {} bytes", Transport::kLargestHead)
                     : "a request of HTTP/1.1"}));
    }
    read_fields();
    const auto length = parser_->content_length();
    const bool has_body = parser_->chunked() || (length && *length > 0);
    std::uint64_t largest_body = 0;
    auto answer = shared_.site->look(request_, largest_body);
    if (!answer && length && *length > largest_body)
        answer = shared_.site->refuse(request_, 413,
                                      {ErrorCode::request_too_large,
                                       {},
                                       fmt::format("a body of {} bytes", *length),
                                       fmt::format("at most {}", largest_body)});
    keep_ = parser_->get().keep_alive() && !(answer && has_body);
    if (answer && answer->is_stream) return begin_stream(std::move(*answer));
    if (answer) return write(std::move(*answer));
    parser_->body_limit(largest_body);
    if (parser_->get()[http::field::expect] == "100-continue") return send_continue();
    read_body();
}

void Connection::read_fields() {
    const auto& head = parser_->get();
    const std::string target = text_of(head.target());
    const std::size_t question = target.find('?');
    request_.method = text_of(head.method_string());
    request_.path = target.substr(0, question);
    if (question != std::string::npos) request_.query = target.substr(question + 1);
    request_.has_one_host = head.count(http::field::host) == 1;
    request_.host = text_of(head[http::field::host]);
    request_.origin = text_of(head[http::field::origin]);
    request_.fetch_site = text_of(head["Sec-Fetch-Site"]);
    request_.content_type = text_of(head[http::field::content_type]);
    request_.authorization = text_of(head[http::field::authorization]);
    request_.accept_encoding = text_of(head[http::field::accept_encoding]);
    request_.if_none_match = text_of(head[http::field::if_none_match]);
    error_code error;
    const auto end = stream_.socket().local_endpoint(error);
    if (!error) request_.own_address = end.address().to_string();
}

void Connection::send_continue() {
    static constexpr std::string_view kContinue = "HTTP/1.1 100 Continue\r\n\r\n";
    net::async_write(stream_, net::buffer(kContinue.data(), kContinue.size()),
                     [self = shared_from_this()](error_code error, std::size_t) {
                         if (error) return self->close();
                         self->read_body();
                     });
}

void Connection::read_body() {
    stream_.expires_after(shared_.waits.body);
    http::async_read(
        stream_, buffer_, *parser_,
        [self = shared_from_this()](error_code error, std::size_t) { self->on_body(error); });
}

void Connection::on_body(error_code error) {
    if (error == http::error::body_limit) {
        keep_ = false;
        return write(shared_.site->refuse(
            request_, 413, {ErrorCode::request_too_large, {}, "a larger body", "a smaller one"}));
    }
    if (error) return close();
    request_.body = std::move(parser_->get().body());
    work([self = shared_from_this()] {
        Response answer = self->shared_.site->answer(self->request_);
        net::post(self->stream_.get_executor(),
                  [self, answer = std::move(answer)]() mutable { self->write(std::move(answer)); });
    });
}

bool Connection::work(std::function<void()> job) {
    if (shared_.waiting >= Transport::kMostWaiting) {
        write(shared_.site->refuse(request_, 503,
                                   {ErrorCode::server_busy,
                                    {},
                                    "more requests than can be worked on",
                                    "the same request a little later"}));
        return false;
    }
    ++shared_.waiting;
    // No request and no response is timed while it is worked on.
    stream_.expires_never();
    net::post(*shared_.workers, [job = std::move(job), shared = &shared_] {
        --shared->waiting;
        job();
    });
    return true;
}

std::string Connection::head_of(const Response& response, bool is_stream) const {
    std::string head =
        fmt::format("HTTP/1.1 {} {}\r\n", response.status, reason_of(response.status));
    for (const auto& [name, value] : response.headers)
        head += fmt::format("{}: {}\r\n", name, value);
    if (!is_stream && response.status != 304)
        head += fmt::format("Content-Length: {}\r\n", response.body().size());
    head += keep_ && !is_stream ? "Connection: keep-alive\r\n\r\n" : "Connection: close\r\n\r\n";
    return head;
}

void Connection::write(Response response) {
    response_ = std::move(response);
    head_ = head_of(response_, false);
    const bool has_body = request_.method != "HEAD" && response_.status != 304;
    const std::string_view body = has_body ? response_.body() : std::string_view();
    stream_.expires_after(shared_.waits.write);
    const std::array<net::const_buffer, 2> parts{net::buffer(head_),
                                                 net::buffer(body.data(), body.size())};
    net::async_write(stream_, parts, [self = shared_from_this()](error_code error, std::size_t) {
        if (error) return self->close();
        if (self->keep_) return self->wait_for_next();
        self->linger();
    });
}

void Connection::linger() {
    error_code ignored;
    stream_.socket().shutdown(tcp::socket::shutdown_send, ignored);
    stream_.expires_after(shared_.waits.linger);
    swallow(0);
}

void Connection::swallow(std::size_t swallowed) {
    buffer_.clear();
    stream_.async_read_some(buffer_.prepare(65536), [self = shared_from_this(), swallowed](
                                                        error_code error, std::size_t bytes) {
        if (error || swallowed + bytes > kMostLingering) return self->close();
        self->swallow(swallowed + bytes);
    });
}

void Connection::close() {
    if (shared_.streams.erase(shared_from_this()) > 0) --shared_.stream_count;
    error_code ignored;
    stream_.socket().shutdown(tcp::socket::shutdown_both, ignored);
    stream_.close();
}

}  // namespace layproof::server::internal
