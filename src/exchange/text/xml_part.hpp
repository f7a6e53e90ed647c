#pragma once
// What the part layproof_xml.so hands over: libxml2 behind XmlEvents.

#include "base/result.hpp"

namespace layproof::exchange {
class XmlEvents;
}

namespace layproof::exchange::internal {

struct XmlPart {
    /// XmlEvents::run() with everything set to its beginning.
    Result<Done> (*run)(XmlEvents& events);
};

}  // namespace layproof::exchange::internal
