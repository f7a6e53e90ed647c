#include "acts/record/record_check.hpp"
#include "acts/shared/describe_shared.hpp"
#include "acts/shared/version.hpp"

namespace layproof::acts {
namespace {

struct RecordPages {
    const RecordCheck& of;
};

std::string_view to_word(PagesCheck pages) {
    switch (pages) {
        case PagesCheck::same:
            return "same";
        case PagesCheck::differ:
            return "differ";
        case PagesCheck::not_compared:
            break;
    }
    return "not compared";
}

void describe(Fields& f, const RecordPages& pages) {
    f.is("RecordPages");
    f.word("word", to_word(pages.of.pages), {"same", "differ", "not compared"});
    f.text("says", pages.of.pages_say);
}

}  // namespace

void describe(Fields& f, const RecordCheckLine& line) {
    f.is("RecordCheckFile");
    f.text("name", line.name);
    f.flag("agrees", line.agrees);
    f.text("says", line.says);
}

void describe(Fields& f, const RecordCheck& check) {
    f.is("RecordCheck");
    f.word("act", "prove", {"prove"});
    f.text("version", version());
    f.text("from", check.file);
    f.flag("agrees", check.agrees);
    f.text("made_by", check.made_by);
    f.text("facts_sha256", check.facts_digest);
    f.record("pages", RecordPages{check});
    f.records("files", check.lists);
    f.text("verdict", check.verdict);
    f.list("heads", check.chains, [&](const RecordChain& chain) { f.text({}, chain.head); });
}

std::string to_json(const RecordCheck& check) {
    return json_document(check);
}

}  // namespace layproof::acts
