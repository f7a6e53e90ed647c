#include "acts/station/causes.hpp"

#include "cause/cause_table.hpp"

namespace layproof::acts {

std::string_view shipped_causes() {
    return cause::shipped_causes_toml();
}

}  // namespace layproof::acts
