#pragma once
// The instrument file (TOML): how well instrument and rod measure. Keys: docs/files.md.

#include <string>
#include <vector>

#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "measure/instrument.hpp"

namespace layproof::exchange {

struct InstrumentFile {
    measure::Instrument instrument;    ///< stated is true
    std::vector<std::string> notices;  ///< one for each main key that is not there: its default
};

/// Error codes: empty_file, not_utf8, file_too_large (above 1 MiB), not_toml, key_unknown,
/// not_a_number, not_finite, out_of_range.
Result<InstrumentFile> read_instrument(const Document& document);

}  // namespace layproof::exchange
