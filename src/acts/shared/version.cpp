#include "acts/shared/version.hpp"

namespace layproof::acts {

std::string_view version() {
    return LAYPROOF_VERSION;
}

}  // namespace layproof::acts
