#pragma once
// The parts of the record on paper.

#include <string>

#include "acts/record/record.hpp"

namespace layproof::acts::internal {

/// Figures of one table whose unit stands in the heads: "0.021 ft" becomes "0.021" under "ft".
/// Feet and inches keep theirs.
class Figures {
public:
    explicit Figures(const measure::LengthStyle& style) : style_(style) {}

    std::string length(const std::optional<double>& value_m) const;
    std::string small(const std::optional<double>& value_m) const;
    std::string signed_small(const std::optional<double>& value_m) const;
    std::string tolerance(const std::optional<double>& value_m) const;
    /// "east, ft".
    std::string head(const std::string& name) const;
    std::string small_head(const std::string& name) const;
    /// The unit of small figures behind these words; empty for feet and inches.
    std::string small_unit(const std::string& words) const;

private:
    std::string bare(std::string text) const;
    measure::LengthStyle style_;
};

using Blocks = std::vector<paper::Block>;

drawing::PlanWord record_word(station::Word word);
/// "setup-3" of the third station.
std::string setup_anchor(std::size_t index);

void add_summary(const RecordAnswer& answer, Blocks& out);
void add_control(const RecordAnswer& answer, Blocks& out);
void add_whole(const RecordAnswer& answer, Blocks& out);
void add_setups(const RecordAnswer& answer, Blocks& out);
void add_points(const RecordAnswer& answer, Blocks& out);
void add_decisions(const RecordAnswer& answer, Blocks& out);
void add_limits(const RecordAnswer& answer, Blocks& out);
void add_sources(const RecordAnswer& answer, Blocks& out);

}  // namespace layproof::acts::internal
