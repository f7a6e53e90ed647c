#pragma once
// A request and a response without the library that carries them.

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace layproof::server {

/// What the head of a request says; `body` is empty until it has been read.
struct Request {
    std::string method;
    std::string path;   ///< of the target, before '?', as sent
    std::string query;  ///< after '?', as sent
    std::string host;
    std::string origin;
    std::string fetch_site;  ///< Sec-Fetch-Site
    std::string content_type;
    std::string authorization;
    std::string accept_encoding;
    std::string if_none_match;
    std::string own_address;  ///< that the client reached, without port
    bool has_one_host = false;
    std::string body;

    bool is_read() const { return method == "GET" || method == "HEAD"; }
};

struct Response {
    int status = 200;
    std::vector<std::pair<std::string, std::string>> headers;
    std::shared_ptr<const std::string> text;  ///< the body, or
    std::string_view constant;                ///< the same, of bytes that live for ever
    bool is_stream = false;                   ///< of events: stays open
    std::string first_events;                 ///< sent at once on a stream

    std::string_view body() const { return text ? std::string_view(*text) : constant; }
};

/// The value of a name in a query, percent-decoded; empty when it is not there or not well-formed.
std::string query_value(std::string_view query, std::string_view name);

}  // namespace layproof::server
