// Every JSON answer that the text cases give is of its declared shape.

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "cli/case.hpp"
#include "cli/program.hpp"
#include "door/shapes.hpp"

namespace layproof::testing {
namespace {

TEST(shapes_of_cases, answers_of_the_acts_fit) {
    int answers = 0;
    for (const std::string& name : case_names()) {
        const Case c = read_case(name);
        if (!c.is_json || c.args.empty()) continue;
        // "vet instrument" and "vet rod" are for the command line alone.
        if (c.args.size() > 1 && c.args[1].front() != '-') continue;
        const auto& acts = acts::act_shapes();
        const auto act = std::find_if(acts.begin(), acts.end(), [&](const acts::ActShape& shape) {
            return shape.act == c.args.front();
        });
        if (act == acts.end()) continue;
        const WorkFolder work("shape-" + c.act + "-" + c.name);
        lay_out(c, work.path());
        const Ran ran = run_layproof(c.args, {work.path(), false, ""});
        if (ran.exit_status > 1) continue;
        ++answers;
        const auto refusal = acts::check_record(act->answer, ran.out);
        EXPECT_FALSE(refusal) << name << ": " << refusal->to_text();
    }
    EXPECT_GE(answers, 5);
}

}  // namespace
}  // namespace layproof::testing
