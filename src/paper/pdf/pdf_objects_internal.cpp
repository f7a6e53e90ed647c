#include "paper/pdf/pdf_objects_internal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <memory>
#include <utility>
#define POINTERHOLDER_TRANSITION 4  // qpdf: std::shared_ptr only
#include <qpdf/Buffer.hh>
#include <qpdf/Pl_Buffer.hh>
#include <qpdf/Pl_Flate.hh>

#include "base/text/utf8.hpp"
#include "paper/settable.hpp"
#include "threads/threads.hpp"

namespace layproof::paper {
namespace {

constexpr std::size_t kObjectsInOne = 400;
// Twice as quick as the usual level, a tenth larger.
constexpr int kQuick = 1;

std::string through(Pl_Flate::action_e action, std::string_view bytes) {
    Pl_Buffer out("out");
    Pl_Flate flate("flate", &out, action);
    flate.write(reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
    flate.finish();
    const std::shared_ptr<Buffer> got = out.getBufferSharedPointer();
    return std::string(reinterpret_cast<const char*>(got->getBuffer()), got->getSize());
}

/// The whole number at `at`, after blanks.
std::optional<std::size_t> number_at(std::string_view text, std::size_t at) {
    while (at < text.size() && (text[at] == ' ' || text[at] == '\n')) ++at;
    std::size_t value = 0;
    const auto [end, error] =
        std::from_chars(text.data() + std::min(at, text.size()), text.data() + text.size(), value);
    if (error != std::errc{}) return std::nullopt;
    return value;
}

std::optional<std::size_t> number_behind(std::string_view text, std::string_view key) {
    const std::size_t found = text.find(key);
    if (found == std::string_view::npos) return std::nullopt;
    return number_at(text, found + key.size());
}

/// Of the same bytes always the same (FNV-1a of two beginnings).
std::string id_of(std::string_view bytes) {
    std::string out;
    for (std::uint64_t hash : {0xcbf29ce484222325ULL, 0x9ae16a3b2f90404fULL}) {
        for (const char c : bytes) hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001b3ULL;
        out += fmt::format("{:016X}", hash);
    }
    return out;
}

void put_big_endian(std::string& out, std::size_t value, int bytes) {
    for (int shift = 8 * (bytes - 1); shift >= 0; shift -= 8)
        out += static_cast<char>((value >> shift) & 0xFFU);
}

}  // namespace

std::string packed(std::string_view bytes) {
    return through(Pl_Flate::a_deflate, bytes);
}

std::string unpacked(std::string_view bytes) {
    return through(Pl_Flate::a_inflate, bytes);
}

std::string pdf_text(const std::string& text) {
    const std::string set = settable(text);
    const bool is_plain =
        std::all_of(set.begin(), set.end(), [](char c) { return c >= ' ' && c <= '~'; });
    std::string out;
    if (is_plain) {
        out = "(";
        for (const char c : set) {
            if (c == '(' || c == ')' || c == '\\') out += '\\';
            out += c;
        }
        return out + ")";
    }
    out = "<FEFF";
    for (const char32_t c : code_points(set)) {
        const auto code = static_cast<std::uint32_t>(c);
        if (code >= 0x10000)
            out += fmt::format("{:04X}{:04X}", 0xD800 + ((code - 0x10000) >> 10),
                               0xDC00 + ((code - 0x10000) & 0x3FFU));
        else
            out += fmt::format("{:04X}", code);
    }
    return out + ">";
}

std::string pdf_name(std::string_view text) {
    std::string out = "/";
    for (const char c : text) {
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                           (c >= '0' && c <= '9') || c == '-' || c == '.' || c == '+' || c == '_';
        if (plain)
            out += c;
        else if (c != '\0')
            out += fmt::format("#{:02X}", static_cast<unsigned char>(c));
    }
    return out;
}

std::optional<PdfObjects> PdfObjects::read(std::string_view plain) {
    constexpr std::string_view kStart = "startxref\n";
    constexpr std::size_t kRow = 20;
    const std::size_t end = plain.rfind(kStart);
    if (end == std::string_view::npos) return std::nullopt;
    const auto table = number_at(plain, end + kStart.size());
    if (!table || plain.substr(std::min(*table, plain.size()), 7) != "xref\n0 ")
        return std::nullopt;
    const auto count = number_at(plain, *table + 7);
    const std::size_t rows = plain.find('\n', *table + 7) + 1;
    if (!count || *count < 2 || rows == 0 || *count > (plain.size() - rows) / kRow)
        return std::nullopt;

    PdfObjects out;
    const std::string_view trailer = plain.substr(rows + *count * kRow);
    const auto root = number_behind(trailer, "/Root ");
    const auto info = number_behind(trailer, "/Info ");
    if (!root || !info || *root == 0 || *root >= *count || *info == 0 || *info >= *count)
        return std::nullopt;
    out.root_ = static_cast<int>(*root);
    out.info_ = static_cast<int>(*info);

    out.objects_.resize(*count);
    std::vector<std::pair<std::size_t, std::size_t>> begins;
    for (std::size_t i = 1; i < *count; ++i) {
        const std::string_view row = plain.substr(rows + i * kRow, kRow);
        std::size_t offset = 0;
        std::from_chars(row.data(), row.data() + 10, offset);
        if (row[17] != 'n') {
            out.objects_[i].is_gone = true;
            continue;
        }
        begins.emplace_back(offset, i);
    }
    std::sort(begins.begin(), begins.end());
    for (std::size_t k = 0; k < begins.size(); ++k) {
        const auto [from, number] = begins[k];
        const std::size_t to = k + 1 < begins.size() ? begins[k + 1].first : *table;
        const std::string head = fmt::format("{} 0 obj\n", number);
        if (to > plain.size() || from > to || plain.substr(from, head.size()) != head)
            return std::nullopt;
        const std::string_view whole = plain.substr(from + head.size(), to - from - head.size());
        const std::size_t last = whole.rfind("endobj");
        if (last == std::string_view::npos) return std::nullopt;
        out.objects_[number].read = whole.substr(0, last);
    }
    if (!out.find_streams()) return std::nullopt;
    return out;
}

bool PdfObjects::find_streams() {
    constexpr std::string_view kBegin = ">>\nstream\n";
    for (One& one : objects_) {
        const std::size_t begin = one.read.find(kBegin);
        if (begin == std::string_view::npos) continue;
        const std::string_view dictionary = one.read.substr(0, begin + 2);
        const auto length_at = number_behind(dictionary, "/Length ");
        if (!length_at || *length_at == 0 || *length_at >= objects_.size()) return false;
        One& length = objects_[*length_at];
        const auto size = number_at(length.read, 0);
        const std::size_t from = begin + kBegin.size();
        if (!size || *size > one.read.size() - from) return false;
        if (one.read.substr(from + *size).find("endstream") > 1) return false;
        one.stream = one.read.substr(from, *size);
        one.is_stream = true;
        length.is_gone = true;
        const std::string was = fmt::format("/Length {} 0 R", *length_at);
        const std::size_t at = dictionary.find(was);
        if (at == std::string_view::npos) return false;
        one.own = std::string(dictionary.substr(0, at)) + fmt::format("/Length {}", *size) +
                  std::string(dictionary.substr(at + was.size()));
    }
    return true;
}

std::string_view PdfObjects::body(int number) const {
    const One& one = at(number);
    return one.own.empty() ? one.read : std::string_view(one.own);
}

void PdfObjects::set_body(int number, std::string body) {
    at(number).own = std::move(body);
}

void PdfObjects::add_key(int number, std::string_view key_and_value) {
    std::string text(body(number));
    const std::size_t end = text.rfind(">>");
    if (end == std::string::npos) return;
    text.insert(end, std::string(key_and_value) + " ");
    set_body(number, std::move(text));
}

int PdfObjects::reference(int number, std::string_view key) const {
    const auto found = number_behind(body(number), std::string(key) + " ");
    return found && *found < objects_.size() ? static_cast<int>(*found) : 0;
}

int PdfObjects::add(std::string body) {
    objects_.emplace_back();
    objects_.back().own = std::move(body);
    return count() - 1;
}

int PdfObjects::add_stream(std::string keys, std::function<std::string()> make) {
    const int number = add("");
    replace_stream(number, std::move(keys), std::move(make));
    return number;
}

void PdfObjects::replace_stream(int number, std::string keys, std::function<std::string()> make) {
    One& one = at(number);
    one.own = std::move(keys);
    one.is_stream = true;
    one.make = std::move(make);
}

std::string_view PdfObjects::stream(int number) const {
    return at(number).stream;
}

std::string PdfObjects::write() const {
    std::vector<int> plain;
    std::vector<std::string> made(objects_.size());
    std::vector<std::function<void()>> work;
    for (int i = 1; i < count(); ++i) {
        if (at(i).is_gone) continue;
        if (!at(i).is_stream) plain.push_back(i);
        if (at(i).make)
            work.emplace_back([&, i] { made[static_cast<std::size_t>(i)] = at(i).make(); });
    }
    const std::size_t groups = (plain.size() + kObjectsInOne - 1) / kObjectsInOne;
    std::vector<std::string> group(groups);
    const auto in_group = [&](std::size_t g) {
        return std::pair(g * kObjectsInOne, std::min(plain.size(), (g + 1) * kObjectsInOne));
    };
    for (std::size_t g = 0; g < groups; ++g)
        work.emplace_back([&, g] {
            const auto [from, to] = in_group(g);
            std::string heads, bodies;
            for (std::size_t k = from; k < to; ++k) {
                heads += fmt::format("{} {} ", plain[k], bodies.size());
                bodies += body(plain[k]);
                if (bodies.empty() || bodies.back() != '\n') bodies += '\n';
            }
            const std::string bytes = packed(heads + bodies);
            group[g] = fmt::format(
                "<< /Type /ObjStm /N {} /First {} /Length {} /Filter /FlateDecode >>\nstream\n",
                to - from, heads.size(), bytes.size());
            group[g] += bytes;
        });
    Pl_Flate::setCompressionLevel(kQuick);
    threads::share(work.size(), [&](std::size_t, std::size_t i) { work[i](); });

    std::string out = "%PDF-1.7\n%\xBF\xF7\xA2\xFE\n";
    const std::size_t size = objects_.size() + groups + 1;
    std::vector<std::string> rows(size);
    const auto row = [&](std::size_t number, int kind, std::size_t where, std::size_t index) {
        put_big_endian(rows[number], static_cast<std::size_t>(kind), 1);
        put_big_endian(rows[number], where, 4);
        put_big_endian(rows[number], index, 2);
    };
    for (int i = 1; i < count(); ++i) {
        const One& one = at(i);
        if (one.is_gone || !one.is_stream) continue;
        const std::string& own = made[static_cast<std::size_t>(i)];
        row(static_cast<std::size_t>(i), 1, out.size(), 0);
        out += fmt::format("{} 0 obj\n", i);
        if (one.make)
            out += fmt::format("<< {} /Length {} >>", one.own, own.size());
        else
            out += one.own;
        out += "\nstream\n";
        out += one.make ? std::string_view(own) : one.stream;
        out += "\nendstream\nendobj\n";
    }
    for (std::size_t g = 0; g < groups; ++g) {
        const std::size_t number = objects_.size() + g;
        row(number, 1, out.size(), 0);
        const auto [from, to] = in_group(g);
        for (std::size_t k = from; k < to; ++k)
            row(static_cast<std::size_t>(plain[k]), 2, number, k - from);
        out += fmt::format("{} 0 obj\n", number);
        out += group[g];
        out += "\nendstream\nendobj\n";
    }
    const std::size_t table = out.size();
    row(size - 1, 1, table, 0);
    std::string all;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        if (rows[i].empty()) row(i, 0, 0, i == 0 ? 65535 : 0);
        all += rows[i];
    }
    const std::string bytes = packed(all);
    const std::string id = id_of(out);
    out += fmt::format(
        "{0} 0 obj\n<< /Type /XRef /Size {1} /W [ 1 4 2 ] /Root {2} 0 R /Info {3} 0 R "
        "/ID [ <{4}> <{4}> ] /Length {5} /Filter /FlateDecode >>\nstream\n",
        size - 1, size, root_, info_, id, bytes.size());
    out += bytes;
    out += fmt::format("\nendstream\nendobj\nstartxref\n{}\n%%EOF\n", table);
    return out;
}

}  // namespace layproof::paper
