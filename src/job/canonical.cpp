#include <bit>

#include "job/canonical_internal.hpp"

namespace layproof::job {

void Canonical::u64(std::uint64_t value) {
    for (unsigned shift = 64; shift > 0; shift -= 8) {
        out_.push_back(static_cast<std::uint8_t>((value >> (shift - 8U)) & 0xFFU));
    }
}

void Canonical::integer(std::int64_t value) {
    out_.push_back(1);
    u64(static_cast<std::uint64_t>(value));
}

void Canonical::real(double value) {
    out_.push_back(2);
    u64(value == 0.0 ? 0U : std::bit_cast<std::uint64_t>(value));
}

void Canonical::text(std::string_view value) {
    out_.push_back(3);
    u64(value.size());
    out_.insert(out_.end(), value.begin(), value.end());
}

void Canonical::bytes(std::span<const std::uint8_t> value) {
    out_.push_back(4);
    u64(value.size());
    out_.insert(out_.end(), value.begin(), value.end());
}

void Canonical::row(const Row& row) {
    out_.push_back(5);
    u64(row.size());
    for (const Value& value : row) {
        if (const auto* integer_value = std::get_if<std::int64_t>(&value)) {
            integer(*integer_value);
        } else if (const auto* real_value = std::get_if<double>(&value)) {
            real(*real_value);
        } else if (const auto* text_value = std::get_if<std::string>(&value)) {
            text(*text_value);
        } else if (const auto* bytes_value = std::get_if<Bytes>(&value)) {
            bytes(*bytes_value);
        } else {
            nothing();
        }
    }
}

namespace {

void put_source(Canonical& out, const Source& source) {
    if (source.document.has_value()) {
        out.bytes(source.document->bytes);
    } else {
        out.nothing();
    }
    out.text(source.revision);
}

}  // namespace

Digest content_digest(const FactRecord& fact) {
    Canonical out;
    out.text("layproof content 1");
    out.text(fact.kind);
    put_source(out, fact.source);
    out.row(fact.row);
    if (!fact.source.document.has_value()) out.bytes(fact.id.bytes);
    return sha256(out.out());
}

Digest chain_digest(const Digest& previous, const FactRecord& fact) {
    Canonical out;
    out.text("layproof fact 1");
    out.bytes(fact.id.bytes);
    out.bytes(fact.writer.bytes);
    out.integer(fact.position);
    out.text(fact.kind);
    out.integer(fact.recorded_ms);
    put_source(out, fact.source);
    out.row(fact.row);
    Sha256 hash;
    hash.add(previous.bytes);
    hash.add(out.out());
    return hash.finish();
}

Digest genesis_digest(const WriterRecord& writer) {
    Canonical out;
    out.text("layproof writer 1");
    out.bytes(writer.id.bytes);
    out.bytes(writer.job.bytes);
    out.text(writer.name);
    out.integer(writer.started_ms);
    if (writer.after_writer.has_value()) {
        out.bytes(writer.after_writer->bytes);
    } else {
        out.nothing();
    }
    out.integer(writer.after_position);
    if (writer.after_hash.has_value()) {
        out.bytes(writer.after_hash->bytes);
    } else {
        out.nothing();
    }
    return sha256(out.out());
}

}  // namespace layproof::job
