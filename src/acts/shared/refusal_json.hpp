#pragma once
// A refusal as the page gets it.

#include <string>

#include "base/result.hpp"

namespace layproof::acts {

class Fields;

/// A refusal of a request, and the field of the request it is about, if one.
struct RefusedRequest {
    Refusal refusal;
    std::string field;
};
void describe(Fields& f, const RefusedRequest& refused);

/// What is given in place of an answer.
struct RefusalAnswer {
    RefusedRequest refused;
};
void describe(Fields& f, const RefusalAnswer& answer);

/// The reason in whole sentences: what the code means, where, what was found and what was expected.
std::string sentence_of(const Refusal& refusal);

/// The record RefusalAnswer, one line with a line end.
std::string to_json(const RefusedRequest& refused);

}  // namespace layproof::acts
