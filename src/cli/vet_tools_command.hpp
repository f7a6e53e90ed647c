#pragma once
// layproof vet instrument and layproof vet rod.

namespace CLI {
class App;
}

namespace layproof::cli {

void add_vet_tools(CLI::App& vet, int& status);

}  // namespace layproof::cli
