// BLAS and METIS for large fronts, loaded by the first network that is solved.

#include "adjust/front_library.hpp"

#include "late/part.hpp"

namespace layproof::adjust {

const Result<const FrontLibrary*>& front_library() {
    static const Result<const FrontLibrary*> found = late::part<FrontLibrary>("sparse");
    return found;
}

}  // namespace layproof::adjust
