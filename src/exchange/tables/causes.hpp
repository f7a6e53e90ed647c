#pragma once
// The causes file (TOML): how often each thing goes wrong at a set-up and how large it then is.
//
// One table per cause, named by its word; `pairs` stands above them. Every cause table has
// `frequency` (0 to 1), and sizes where the cause has an amount: sizes_mm for lengths, sizes_arcsec
// for angles, sizes_ppm for the distance scale, both sizes_mm and sizes_arcsec (first with first)
// for tripod-disturbed, none for nothing-wrong, names-swapped and wrong-name. A size is a standard
// deviation above 0.

#include <string>
#include <vector>

#include "base/result.hpp"
#include "cause/cause_table.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

struct CausesFile {
    cause::CauseTable table;           ///< sums to 1
    std::vector<std::string> notices;  ///< causes that are not there and so never named
};

/// How far the frequencies may be from a sum of 1; they are then brought to 1.
inline constexpr double kCausesSumSlack = 0.05;

/// Error codes: empty_file, not_utf8, file_too_large (above 1 MiB), not_toml, cause_unknown (a
/// table or word that names no cause), key_unknown (inside a cause), cause_size_bad (a frequency or
/// size that is no finite number in its range, is missing or does not belong there; nothing-wrong
/// that never holds), causes_do_not_sum.
Result<CausesFile> read_causes(const Document& document);

/// The table that layproof carries (cause/causes.toml).
cause::CauseTable shipped_table();

}  // namespace layproof::exchange
