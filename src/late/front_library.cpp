// BLAS and METIS for large fronts, loaded by the first network that is solved.

#include "adjust/front_library.hpp"

#include <cstdlib>

#include "late/part.hpp"

namespace layproof::adjust {

const Result<const FrontLibrary*>& front_library() {
    static const Result<const FrontLibrary*> found = [] {
        // Fronts are shared among threads here; those of the library would only spin beside them.
        // Somebody who sets the number by hand keeps it.
        setenv("OPENBLAS_NUM_THREADS", "1", 0);
        return late::part<FrontLibrary>("sparse");
    }();
    return found;
}

}  // namespace layproof::adjust
