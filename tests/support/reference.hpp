#pragma once
// Reads a published example from tests/reference (see PROVENANCE.md there). A test runs the code on
// example.input and compares each [[expect]] that is not "rejected".

#include <gtest/gtest.h>

#include <toml++/toml.h>
#include <filesystem>
#include <string>
#include <string_view>

namespace layproof::testing {

class Reference {
public:
    explicit Reference(std::string_view id)
        : table_(toml::parse_file(std::string(LAYPROOF_SOURCE_DIR) + "/tests/reference/" +
                                  std::string(id) + ".toml")) {}

    const toml::table& table() const { return table_; }
    const toml::table& input() const { return *table_["input"].as_table(); }

    /// input.<path> as a number; path such as "case_1.t_degC".
    double number(std::string_view path) const {
        const auto value = table_.at_path("input." + std::string(path)).value<double>();
        if (!value) ADD_FAILURE() << "no input." << path;
        return value.value_or(0.0);
    }

    struct Expected {
        double value = 0.0;
        double tolerance = 0.0;
        double computed = 0.0;  ///< own full-precision value of the collection, if given
        bool found = false;
    };

    Expected expected(std::string_view what) const {
        for (const auto& node : *table_["expect"].as_array()) {
            const auto& row = *node.as_table();
            if (row["what"].value<std::string>() != std::string(what)) continue;
            if (row["kind"].value<std::string>() == "rejected") continue;
            const double value = row["value"].value<double>().value_or(0.0);
            return {value, row["tol"].value<double>().value_or(0.0),
                    row["computed"].value<double>().value_or(value), true};
        }
        return {};
    }

    /// Expects `actual` to agree with the published figure within its tolerance times `slack`.
    void check(std::string_view what, double actual, double slack = 1.0) const {
        const Expected e = expected(what);
        ASSERT_TRUE(e.found) << "no such figure: " << what;
        EXPECT_NEAR(actual, e.value, e.tolerance * slack)
            << table_["id"].value_or("") << ": " << what;
    }

private:
    toml::table table_;
};

}  // namespace layproof::testing
