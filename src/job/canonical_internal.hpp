#pragma once
// The one way in which a fact is turned into bytes to be hashed. Not for other rooms.
//
// Each value is a tag byte and its bytes: 0 nothing; 1 integer, 64 bits two's complement,
// big-endian; 2 real, IEEE 754 binary64 bits big-endian, −0 written as +0 (SQLite keeps no −0); 3
// text and 4 bytes, each with a 64-bit big-endian length in front. A row is the tag 5, the number
// of its values as 64 bits, then the values. Nothing else is put between, so that no two different
// facts have the same bytes.

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "job/digest.hpp"
#include "job/fact_id.hpp"
#include "job/facts.hpp"

namespace layproof::job {

using Value = std::variant<std::monostate, std::int64_t, double, std::string, Bytes>;
using Row = std::vector<Value>;

class Canonical {
public:
    void nothing() { out_.push_back(0); }
    void integer(std::int64_t value);
    void real(double value);
    void text(std::string_view value);
    void bytes(std::span<const std::uint8_t> value);
    void row(const Row& row);

    const Bytes& out() const { return out_; }

private:
    void u64(std::uint64_t value);
    Bytes out_;
};

/// All that is hashed of a fact.
struct FactRecord {
    FactId id;
    WriterId writer;
    std::int64_t position = 0;  ///< in the writer's chain, from 1
    std::string kind;
    std::int64_t recorded_ms = 0;
    Source source;
    Row row;
};

/// What the fact says, wherever and whenever it was recorded. A fact from a document is the same in
/// every job that read the document; a fact without one is its own, so its id goes in.
Digest content_digest(const FactRecord& fact);

/// SHA-256(previous ‖ canonical bytes of the fact).
Digest chain_digest(const Digest& previous, const FactRecord& fact);

/// A writer's chain: whose, in which job, since when, and after which other chain it goes on.
struct WriterRecord {
    WriterId id;
    JobId job;
    std::string name;
    std::int64_t started_ms = 0;
    std::optional<WriterId> after_writer;
    std::int64_t after_position = 0;
    std::optional<Digest> after_hash;

    friend bool operator==(const WriterRecord&, const WriterRecord&) = default;
};

/// What stands before the first fact of a writer's chain.
Digest genesis_digest(const WriterRecord& writer);

}  // namespace layproof::job
