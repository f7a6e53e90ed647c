// A part that was built with something else (part_test.cpp).

extern "C" {
extern const char* const layproof_of_another_build_part;
const char* const layproof_of_another_build_part = "0.0.0 some compiler";
}
