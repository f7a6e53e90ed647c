#include "late/part.hpp"

namespace layproof::late {

const char* made_for() {
    return LAYPROOF_PART_VERSION " " __VERSION__;
}

}  // namespace layproof::late
