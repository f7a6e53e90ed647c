#include "server/site.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <utility>

#include "acts/record/record.hpp"
#include "acts/shared/refusal_json.hpp"
#include "door/door_answers.hpp"
#include "door/shapes.hpp"
#include "server/page.hpp"

namespace layproof::server {
namespace {

constexpr std::string_view kApi = "/api/";
constexpr std::string_view kRecord = "/record/";
/// A record loads nothing and runs nothing; its style is in it.
constexpr std::string_view kRecordPolicy =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
constexpr std::string_view kPolicy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; font-src 'self'; manifest-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'";

int status_of(const Refusal& refusal) {
    switch (refusal.code) {
        case ErrorCode::act_unknown:
        case ErrorCode::not_found:
            return 404;
        case ErrorCode::request_not_json:
        case ErrorCode::request_field_unknown:
        case ErrorCode::request_field_missing:
        case ErrorCode::request_type_wrong:
        case ErrorCode::request_malformed:
            return 400;
        case ErrorCode::job_busy:
            return 503;
        default:
            return 422;
    }
}

/// For the log: no query, nothing that a terminal would take as a command, not without end.
std::string for_log(std::string_view text) {
    constexpr std::size_t kMost = 100;
    std::string out;
    for (const char c : text.substr(0, kMost)) out += c > 0x20 && c < 0x7F ? c : '?';
    if (text.size() > kMost) out += "...";
    return out;
}

bool is_json_type(std::string_view type) {
    type = type.substr(0, type.find(';'));
    while (!type.empty() && type.back() == ' ') type.remove_suffix(1);
    std::string lower(type);
    std::transform(lower.begin(), lower.end(), lower.begin(), [](char c) {
        return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    });
    return lower == "application/json";
}

bool takes_gzip(std::string_view accept) {
    const std::size_t at = accept.find("gzip");
    return at != std::string_view::npos && accept.substr(at).find("gzip;q=0,") != 0 &&
           accept.substr(at) != "gzip;q=0";
}

void add_common_headers(Response& response) {
    response.headers.emplace_back("X-Content-Type-Options", "nosniff");
    response.headers.emplace_back("Referrer-Policy", "no-referrer");
    response.headers.emplace_back("Cross-Origin-Opener-Policy", "same-origin");
    response.headers.emplace_back("Cross-Origin-Resource-Policy", "same-origin");
}

Response json_response(int status, std::shared_ptr<const std::string> text) {
    Response out;
    out.status = status;
    out.headers.emplace_back("Content-Type", "application/json");
    out.headers.emplace_back("Cache-Control", "no-store");
    add_common_headers(out);
    out.text = std::move(text);
    return out;
}

Refusal foreign(std::string found, std::string expected) {
    return {ErrorCode::foreign_request, {}, std::move(found), std::move(expected)};
}

}  // namespace

Site::Site(acts::Door& door, Pairing* pairing, std::uint16_t port,
           std::function<void(std::string_view)> log)
    : door_(door), pairing_(pairing), port_(port), log_(std::move(log)) {}

bool Site::is_own_host(const Request& head) const {
    if (!head.has_one_host) return false;
    // The address that the client reached is ours by definition; a name that somebody else's name
    // server points at us is not (DNS rebinding).
    const bool is_v6 = head.own_address.find(':') != std::string::npos;
    const std::string own = is_v6 ? "[" + head.own_address + "]" : head.own_address;
    for (const std::string& name :
         {std::string("localhost"), std::string("127.0.0.1"), std::string("[::1]"), own}) {
        if (head.host == fmt::format("{}:{}", name, port_)) return true;
        if (port_ == 80 && head.host == name) return true;
    }
    return false;
}

bool Site::is_own_origin(const Request& head) const {
    if (head.fetch_site == "cross-site") return false;
    return head.origin.empty() || head.origin == "http://" + head.host;
}

bool Site::is_paired(const Request& head) const {
    if (pairing_ == nullptr) return true;
    constexpr std::string_view kBearer = "Bearer ";
    if (head.authorization.starts_with(kBearer))
        return pairing_->is_paired(head.authorization.substr(kBearer.size()));
    // An event source of a browser cannot send headers.
    if (head.path == "/api/events") return pairing_->is_paired(query_value(head.query, "token"));
    return false;
}

Response Site::refuse(const Request& head, int status, Refusal refusal) {
    if (log_)
        log_(fmt::format("refused {} {}: {} {} [E{} {}]", for_log(head.method), for_log(head.path),
                         status, refusal.found, static_cast<int>(refusal.code),
                         to_word(refusal.code)));
    return json_response(
        status, std::make_shared<const std::string>(acts::to_json({std::move(refusal), {}})));
}

std::optional<Response> Site::look(const Request& head, std::uint64_t& largest_body) {
    largest_body = 0;
    if (!is_own_host(head))
        return refuse(head, 403,
                      foreign("a request to a host of another name",
                              "the address that layproof printed when it started"));
    if (head.path.size() + head.query.size() > kLongestTarget)
        return refuse(head, 414,
                      {ErrorCode::request_too_large,
                       {},
                       "a very long address",
                       fmt::format("at most {} characters", kLongestTarget)});
    if (!head.path.starts_with(kApi)) {
        if (!head.is_read())
            return refuse(
                head, 405,
                {ErrorCode::request_malformed, {}, "the method of a request to the page", "GET"});
        return head.path.starts_with(kRecord) ? record(head) : page(head);
    }
    if (!is_own_origin(head))
        return refuse(head, 403,
                      foreign("a request from another page", "requests of layproof's own page"));

    const std::string_view what = std::string_view(head.path).substr(kApi.size());
    const bool is_events = what == "events";
    const bool is_known = is_events || what == "files" || (what == "pair" && pairing_ != nullptr) ||
                          std::any_of(acts::act_shapes().begin(), acts::act_shapes().end(),
                                      [&](const acts::ActShape& act) { return act.act == what; });
    if (what != "pair" && !is_paired(head))
        return refuse(head, 401,
                      {ErrorCode::not_paired,
                       {},
                       "a device that is not paired",
                       "the token that pairing gives"});
    if (!is_known)
        return refuse(head, 404,
                      {ErrorCode::not_found, {}, "an address where nothing is", "an act's name"});
    if (head.method != (is_events ? "GET" : "POST"))
        return refuse(
            head, 405,
            {ErrorCode::request_malformed, {}, "another method", is_events ? "GET" : "POST"});
    if (is_events) {
        Response out;
        out.is_stream = true;
        out.headers = {{"Content-Type", "text/event-stream"}, {"Cache-Control", "no-store"}};
        add_common_headers(out);
        return out;
    }
    if (what != "files" && !is_json_type(head.content_type))
        return refuse(head, 415,
                      {ErrorCode::media_type_wrong,
                       {},
                       "a body of another kind",
                       "Content-Type: application/json"});
    largest_body = what == "files" ? kLargestFile : kLargestRequest;
    return std::nullopt;
}

Response Site::page(const Request& head) {
    const PageFile* file = page_file(head.path);
    if (file == nullptr)
        return refuse(head, 404,
                      {ErrorCode::not_found,
                       {},
                       "an address where nothing is",
                       "the page, which stands at /"});
    Response out;
    const std::string tag = fmt::format("\"{}\"", file->digest);
    const bool is_hashed = file->name.starts_with("/assets/");
    out.headers.emplace_back("ETag", tag);
    out.headers.emplace_back("Vary", "Accept-Encoding");
    out.headers.emplace_back("Cache-Control",
                             is_hashed ? "public, max-age=31536000, immutable" : "no-cache");
    out.headers.emplace_back("Content-Security-Policy", kPolicy);
    add_common_headers(out);
    if (head.if_none_match.find(tag) != std::string::npos) {
        out.status = 304;
        return out;
    }
    out.headers.emplace_back("Content-Type", media_type(file->name));
    out.constant = file->bytes;
    if (!file->gzipped.empty() && takes_gzip(head.accept_encoding)) {
        out.headers.emplace_back("Content-Encoding", "gzip");
        out.constant = file->gzipped;
    }
    return out;
}

Response Site::record(const Request& head) {
    // The ticket in the address stands for the pairing: whoever was told it is paired.
    const std::string_view what = std::string_view(head.path).substr(kRecord.size());
    const std::size_t slash = what.find('/');
    const auto file = slash == std::string_view::npos
                          ? nullptr
                          : door_.record_file(what.substr(0, slash), what.substr(slash + 1));
    if (!file) {
        Request told = head;  // no ticket goes into the log
        told.path = kRecord;
        return refuse(told, 404,
                      {ErrorCode::not_found,
                       {},
                       "a record that is not here any more",
                       "the page of layproof, which makes it again"});
    }
    Response out;
    out.headers.emplace_back("Content-Type", file->mime == "text/html" || file->mime == "text/csv"
                                                 ? file->mime + "; charset=utf-8"
                                                 : file->mime);
    out.headers.emplace_back("Content-Disposition",
                             fmt::format("inline; filename=\"{}\"", file->name));
    out.headers.emplace_back("Cache-Control", "no-store");
    // A browser shows a paper by means of its own, which a policy would forbid.
    if (file->mime != "application/pdf")
        out.headers.emplace_back("Content-Security-Policy", kRecordPolicy);
    add_common_headers(out);
    out.text = std::shared_ptr<const std::string>(file, &file->bytes);
    return out;
}

Response Site::pair(const Request& request) {
    if (auto refusal = acts::check_record("PairRequest", request.body))
        return refuse(request, 400, std::move(*refusal));
    // Checked: {"code": "…"}, and a code holds nothing that JSON escapes.
    const std::size_t end = request.body.rfind('"');
    const std::size_t begin = request.body.rfind('"', end - 1) + 1;
    auto token = pairing_->pair(std::string_view(request.body).substr(begin, end - begin),
                                Pairing::Clock::now());
    if (!token) {
        const bool is_closed = token.refusal().code == ErrorCode::server_busy;
        return refuse(request, is_closed ? 429 : 403, std::move(token).refusal());
    }
    return json_response(
        200, std::make_shared<const std::string>(acts::to_json(acts::PairAnswer{*token})));
}

Response Site::asked(const Request& request, acts::Asked answer) {
    if (!answer.refused) return json_response(200, std::move(answer.json));
    const int status = status_of(answer.refused->refusal);
    if (log_)
        log_(fmt::format(
            "refused {} {}: {} [E{} {}]", for_log(request.method), for_log(request.path), status,
            static_cast<int>(answer.refused->refusal.code), to_word(answer.refused->refusal.code)));
    return json_response(status,
                         std::make_shared<const std::string>(acts::to_json(*answer.refused)));
}

Response Site::answer(const Request& request) {
    const std::string_view what = std::string_view(request.path).substr(kApi.size());
    if (what == "pair") return pair(request);
    if (what == "files") {
        std::string name = query_value(request.query, "name");
        if (name.empty()) name = "file";
        return asked(request, door_.keep_file(std::move(name), request.body));
    }
    return asked(request, door_.ask(what, request.body));
}

std::string Site::event(std::string_view name, std::string_view data) {
    std::string out = fmt::format("event: {}\n", name);
    while (!data.empty()) {
        const std::size_t end = data.find('\n');
        out += fmt::format("data: {}\n", data.substr(0, end));
        if (end == std::string_view::npos) break;
        data.remove_prefix(end + 1);
    }
    return out + "\n";
}

std::string Site::job_event(const acts::JobState& state) {
    return event("job", acts::Door::state_json(state));
}

std::string Site::work_event(const acts::WorkNote& note) {
    return event("work", acts::Door::note_json(note));
}

std::string Site::first_events() {
    std::string out = "retry: 1000\n\n";
    for (const acts::WorkNote& note : door_.work_going_on()) out += work_event(note);
    return out;
}

std::string Site::job_now() {
    const auto state = door_.state();
    return state ? job_event(*state) : std::string();
}

}  // namespace layproof::server
