#pragma once
// Parts of the program that are loaded when they are first asked for: what draws papers, reads XML
// and knows map projections, and the numerics of large networks. Each brings libraries that most
// commands never use and that take longer to load than such a command takes to answer.
//
// A part is a shared library layproof_NAME.so in ../lib/layproof, seen from the folder of the
// program, or in that folder itself, wherever the program is started from. It hands over one table
// of functions, a struct that the room which uses the part declares. A part is never unloaded.
//
// Errors: cannot_read when the part is not there, needs a library that is not there, or was built
// with another layproof or compiler: types of C++ go to and fro. Asked for again, a part that could
// not be loaded is refused again in the same words.

#include <string>
#include <string_view>

#include "base/result.hpp"

namespace layproof::late {

/// Where a part begins: `Part<Table> layproof_NAME_part`, with LAYPROOF_PART_ENTRY before it.
template <class Table>
struct Part {
    /// made_for() of the build that it belongs to.
    const char* made_for = nullptr;
    Table table;
};

#define LAYPROOF_PART_ENTRY extern "C" __attribute__((visibility("default")))

/// Version of layproof and of the compiler. Linked into the program and into each part, so that
/// each says its own.
const char* made_for();

/// Address of a Part, whose first member is made_for. `name`: "pdf".
Result<const void*> find_part(const std::string& name);

/// The table of a part, loaded by the first call from whatever thread.
template <class Table>
Result<const Table*> part(const std::string& name) {
    const auto found = find_part(name);
    if (!found) return found.refusal();
    return &static_cast<const Part<Table>*>(*found)->table;
}

}  // namespace layproof::late
