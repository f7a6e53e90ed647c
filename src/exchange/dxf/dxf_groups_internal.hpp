#pragma once
// A DXF file as pairs of group code and value, each with its line.

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

struct DxfGroup {
    int code = 0;
    std::string_view value;  ///< without blanks at its ends
    int line = 0;            ///< of the value
};

class DxfGroups {
public:
    explicit DxfGroups(const Document& document);

    /// False at the end of the bytes. Error code: not_well_formed (a group code that is none, or
    /// one without a value).
    Result<bool> next(DxfGroup& group);
    /// The group just read is given again by the next call.
    void back() { is_back_ = true; }
    int line() const { return line_; }
    Place place() const { return {document_.name, line_ < 1 ? 1 : line_, 1}; }
    Place place(const DxfGroup& group) const { return {document_.name, group.line, 1}; }

private:
    std::string_view take_line();

    const Document& document_;
    std::string_view rest_;
    int line_ = 0;
    DxfGroup last_;
    bool is_back_ = false;
};

/// A number, or not_a_number with the place.
Result<double> dxf_number(const DxfGroups& groups, const DxfGroup& group);

/// Text as people read it: UTF-8, %%d %%c %%p and \U+ codes resolved; of MTEXT also without
/// formatting, its lines joined by blanks.
std::string dxf_text(std::string_view value, bool is_mtext);

}  // namespace layproof::exchange
