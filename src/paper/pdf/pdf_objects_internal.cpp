#include "paper/pdf/pdf_objects_internal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <exception>
#include <memory>
#include <utility>
#define POINTERHOLDER_TRANSITION 4  // qpdf: std::shared_ptr only
#include <qpdf/Buffer.hh>
#include <qpdf/Pl_Buffer.hh>
#include <qpdf/Pl_Flate.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFWriter.hh>

#include "base/text/utf8.hpp"
#include "paper/pdf/pdf_syntax_internal.hpp"
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

Refusal not_read(std::string found) {
    return {ErrorCode::cannot_write,
            {"record.pdf", 0, 0},
            std::move(found),
            "a PDF whose objects can be read"};
}

/// The same objects without object streams, encryption or later additions, in one plain table.
/// Throws what qpdf throws.
std::string written_plainly(std::string_view bytes) {
    QPDF pdf;
    pdf.setSuppressWarnings(true);
    pdf.setAttemptRecovery(false);
    pdf.processMemoryFile("pages", bytes.data(), bytes.size());
    QPDFWriter writer(pdf);
    writer.setOutputMemory();
    writer.setObjectStreamMode(qpdf_o_disable);
    writer.setStreamDataMode(qpdf_s_preserve);
    writer.setPreserveEncryption(false);
    writer.setStaticID(true);
    writer.write();
    const std::shared_ptr<Buffer> out = writer.getBufferSharedPointer();
    return std::string(reinterpret_cast<const char*>(out->getBuffer()), out->getSize());
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

Result<PdfObjects> PdfObjects::read(std::string_view bytes) {
    auto plain = read_plain(bytes);
    if (plain) return plain;
    try {
        const auto text = std::make_shared<const std::string>(written_plainly(bytes));
        auto out = read_plain(*text);
        if (out) out->written_plainly_ = text;
        return out;
    } catch (const std::exception& error) {
        return not_read(plain.refusal().found + " (" + error.what() + ")");
    }
}

Result<PdfObjects> PdfObjects::read_plain(std::string_view bytes) {
    PdfObjects out;
    if (auto refusal = out.read_table(bytes)) return std::move(*refusal);
    if (auto refusal = out.find_streams(bytes)) return std::move(*refusal);
    return out;
}

std::optional<Refusal> PdfObjects::read_table(std::string_view bytes) {
    constexpr std::string_view kStart = "startxref";
    const std::size_t start = bytes.rfind(kStart);
    if (start == std::string_view::npos) return not_read("no place of a table of objects");
    const auto table_at = PdfReading(bytes, start + kStart.size()).number();
    if (!table_at || *table_at >= bytes.size())
        return not_read("no place of a table of objects behind startxref");
    PdfReading table(bytes, *table_at);
    if (!table.takes("xref")) return not_read("no plain table of objects");
    std::vector<std::size_t> begins;
    while (const auto first = table.number()) {
        const auto count = table.number();
        // A row is 20 bytes.
        if (!count || *count > bytes.size() / 20 || *first > bytes.size() / 20)
            return not_read("a table of more objects than there are bytes");
        begins.resize(std::max(begins.size(), *first + *count));
        for (std::size_t i = *first; i < *first + *count; ++i) {
            const auto where = table.number();
            const auto generation = table.number();
            if (!where || !generation) return not_read("a table of objects cut short");
            if (table.takes("f")) continue;
            if (!table.takes("n") || *where >= bytes.size() || *generation != 0)
                return not_read(fmt::format("object {} in no place of its own", i));
            begins[i] = *where;
        }
    }
    const auto trailer = table.takes("trailer") ? table.object() : std::nullopt;
    if (!trailer) return not_read("no trailer behind the table of objects");
    for (const char* key : {"/Prev", "/XRefStm", "/Encrypt"})
        if (value_of(*trailer, key)) return not_read(std::string("a trailer with ") + key);

    objects_.resize(std::max<std::size_t>(begins.size(), 1));
    stream_begin_.assign(objects_.size(), 0);
    for (std::size_t i = 1; i < begins.size(); ++i) {
        if (begins[i] == 0) continue;
        PdfReading reading(bytes, begins[i]);
        const auto number = reading.number();
        const auto generation = reading.number();
        const bool is_object = number == i && generation == 0 && reading.takes("obj");
        const auto object = is_object ? reading.object() : std::nullopt;
        if (!object) return not_read(fmt::format("no object {} where the table has it", i));
        objects_[i].is_gone = false;
        objects_[i].read = *object;
        if (reading.takes("stream"))
            stream_begin_[i] = reading.at();
        else if (!reading.takes("endobj"))
            return not_read(fmt::format("object {} without an end", i));
    }
    const auto number_under = [&](std::string_view key) {
        const auto value = value_of(*trailer, key);
        const auto found = value ? reference_of(*value) : std::nullopt;
        return found && *found > 0 && *found < count() && !at(*found).is_gone ? *found : 0;
    };
    root_ = number_under("/Root");
    info_ = number_under("/Info");
    if (root_ == 0) return not_read("a trailer without the root of its objects");
    return std::nullopt;
}

std::optional<Refusal> PdfObjects::find_streams(std::string_view bytes) {
    std::vector<int> lengths;
    for (int i = 1; i < count(); ++i) {
        std::size_t from = stream_begin_[static_cast<std::size_t>(i)];
        if (from == 0) continue;
        One& one = at(i);
        const auto length = value_of(one.read, "/Length");
        const auto size = length ? whole_number_of(at_end_of(*length)) : std::nullopt;
        // The end of the line behind the word is not in the stream.
        if (bytes.substr(from, 2) == "\r\n")
            from += 2;
        else if (bytes.substr(from, 1) == "\n")
            from += 1;
        else
            return not_read(fmt::format("stream {} that begins on no line of its own", i));
        if (!size || *size > bytes.size() - from ||
            !PdfReading(bytes, from + *size).takes("endstream"))
            return not_read(fmt::format("stream {} of another length than it says", i));
        one.stream = bytes.substr(from, *size);
        one.is_stream = true;
        if (const auto number = reference_of(*length)) {
            lengths.push_back(*number);
            set_key(i, "/Length", fmt::format("{}", *size));
        }
    }
    // Lengths stand with their streams now.
    for (const int number : lengths) at(number).is_gone = true;
    stream_begin_.clear();
    return std::nullopt;
}

std::string_view PdfObjects::body(int number) const {
    const One& one = at(number);
    if (!one.own.empty()) return one.own;
    return one.read.empty() ? std::string_view("null") : one.read;
}

void PdfObjects::set_body(int number, std::string body) {
    at(number).own = std::move(body);
}

std::string_view PdfObjects::at_end_of(std::string_view object) const {
    // A reference to a reference is none of the standard; more of them are not followed.
    const auto number = reference_of(object);
    if (!number) return object;
    return *number > 0 && *number < count() ? body(*number) : std::string_view("null");
}

std::optional<std::string_view> PdfObjects::value(int number, std::string_view key) const {
    const auto found = value_of(body(number), key);
    if (!found) return std::nullopt;
    return at_end_of(*found);
}

void PdfObjects::set_key(int number, std::string_view key, std::string_view value) {
    set_body(number, with_key(body(number), key, value));
}

int PdfObjects::add(std::string body) {
    objects_.emplace_back();
    objects_.back().is_gone = false;
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
            out += body(i);
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
    const std::string info = info_ == 0 ? std::string() : fmt::format("/Info {} 0 R ", info_);
    out += fmt::format(
        "{0} 0 obj\n<< /Type /XRef /Size {1} /W [ 1 4 2 ] /Root {2} 0 R {3}"
        "/ID [ <{4}> <{4}> ] /Length {5} /Filter /FlateDecode >>\nstream\n",
        size - 1, size, root_, info, id, bytes.size());
    out += bytes;
    out += fmt::format("\nendstream\nendobj\nstartxref\n{}\n%%EOF\n", table);
    return out;
}

}  // namespace layproof::paper
