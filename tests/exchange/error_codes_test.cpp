// Every code of files and text, and those of the tables, is given by some input.

#include <gtest/gtest.h>

#include <functional>
#include <map>

#include "exchange/exchange_support.hpp"
#include "exchange/import/import.hpp"
#include "exchange/tables/column_map.hpp"
#include "exchange/tables/instrument.hpp"
#include "exchange/tables/readers.hpp"
#include "exchange/text/file.hpp"

namespace layproof::exchange {
namespace {

using testing::file;

template <class T>
ErrorCode code_of(const Result<T>& result) {
    return result.ok() ? ErrorCode{} : result.refusal().code;
}

ErrorCode marks(const std::string& rows) {
    return code_of(read_marks(file("mark,east [m],north [m],height [m]\n" + rows)));
}
ErrorCode sights(const std::string& row) {
    return code_of(read_sights(file(
        "station,target,direction,zenith,slope_distance [m],target_height [m],time,face\n" + row)));
}
ErrorCode raw_marks(const std::string& text) {
    return code_of(read_marks(file(text)));
}

constexpr const char* kMetres =
    "#1=IFCPROJECT('',$,$,$,$,$,$,$,#2);#2=IFCUNITASSIGNMENT((#3));"
    "#3=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);";
ErrorCode model(const std::string& records) {
    return code_of(read_any_points(file("ISO-10303-21;HEADER;FILE_SCHEMA(('IFC4'));ENDSEC;DATA;" +
                                        records + "ENDSEC;END-ISO-10303-21;")));
}

const std::map<ErrorCode, std::function<ErrorCode()>>& producers() {
    static const std::map<ErrorCode, std::function<ErrorCode()>> kProducers{
        {ErrorCode::cannot_read, [] { return code_of(read_file("/")); }},
        {ErrorCode::cannot_write, [] { return code_of(write_file_whole("/", "x")); }},
        {ErrorCode::empty_file, [] { return raw_marks(" \n"); }},
        {ErrorCode::not_utf8, [] { return raw_marks("mark\xFF"); }},
        {ErrorCode::header_missing, [] { return raw_marks("1,2,3\n"); }},
        {ErrorCode::column_missing, [] { return raw_marks("mark,east\n"); }},
        {ErrorCode::column_twice, [] { return raw_marks("mark,mark\n"); }},
        {ErrorCode::unit_unknown, [] { return raw_marks("mark,east [x]\n"); }},
        {ErrorCode::unit_missing, [] { return raw_marks("mark,east,north,height\nA,1,2,3"); }},
        {ErrorCode::not_a_number, [] { return marks("A,a,2,3"); }},
        {ErrorCode::not_finite, [] { return marks("A,nan,2,3"); }},
        {ErrorCode::not_an_angle, [] { return sights("S,T,x,90,1,1,,"); }},
        {ErrorCode::angle_out_of_range, [] { return sights("S,T,400,90,1,1,,"); }},
        {ErrorCode::negative_distance, [] { return sights("S,T,1,90,-1,1,,"); }},
        {ErrorCode::row_too_short, [] { return marks("A,1"); }},
        {ErrorCode::row_too_long, [] { return marks("A,1,2,3,4"); }},
        {ErrorCode::quote_open, [] { return marks("\"A,1,2,3"); }},
        {ErrorCode::value_missing, [] { return marks(",1,2,3"); }},
        {ErrorCode::word_unknown, [] { return sights("S,T,1,90,1,1,,left"); }},
        {ErrorCode::out_of_range, [] { return marks("A,1e300,2,3"); }},
        {ErrorCode::not_toml, [] { return code_of(read_instrument(file("="))); }},
        {ErrorCode::key_unknown, [] { return code_of(read_instrument(file("x = 1"))); }},
        {ErrorCode::time_not_read, [] { return sights("S,T,1,90,1,1,07:45,"); }},
        {ErrorCode::column_map_bad, [] { return code_of(read_column_map(file("table = 1"))); }},
        {ErrorCode::file_too_large, [] { return raw_marks(std::string(1U << 17U, 'x')); }},
        {ErrorCode::not_well_formed,
         [] { return code_of(read_any_marks(file("<LandXML version='1.2'>"))); }},
        {ErrorCode::format_unknown, [] { return code_of(read_any_marks(file("<svg/>"))); }},
        {ErrorCode::reference_missing, [] { return model("#1=IFCPROJECT('',$,$,$,$,$,$,$,#9);"); }},
        {ErrorCode::reference_circular,
         [] {
             return model(std::string(kMetres) +
                          "#4=IFCLOCALPLACEMENT(#4,$);#5=IFCCOLUMN('',$,'C',$,$,#4,$,$,$);");
         }},
        {ErrorCode::nested_too_deep,
         [] { return model("#1=IFCPROJECT(" + std::string(99, '(') + ");"); }},
        {ErrorCode::not_geographic,
         [] {
             return code_of(read_any_marks(
                 file("{\"type\":\"Point\",\"coordinates\":[458658.78,5438232.79]}")));
         }},
        {ErrorCode::duplicate_mark, [] { return marks("A,1,2,3\nA,4,5,6"); }},
        {ErrorCode::marks_in_one_place, [] { return marks("A,1,2,3\nB,1,2,3"); }},
        {ErrorCode::no_sights, [] { return sights(""); }},
        {ErrorCode::setup_incomplete,
         [] { return code_of(read_setups(file("station,kind\nS,occupied"))); }},
        {ErrorCode::duplicate_point,
         [] { return code_of(read_points(file("point,east [m],north [m]\nP,1,2\nP,1,2"))); }},
        {ErrorCode::duplicate_setup,
         [] { return code_of(read_setups(file("station,kind\nS,free\nS,free"))); }},
        {ErrorCode::no_marks, [] { return marks(""); }},
    };
    return kProducers;
}

TEST(ErrorCodes, each_producer_gives_its_code) {
    for (const auto& [code, produce] : producers()) {
        EXPECT_EQ(to_word(produce()), to_word(code));
    }
}

TEST(ErrorCodes, every_code_of_files_and_text_has_a_producer) {
    for (const ErrorEntry& entry : error_table()) {
        if (static_cast<int>(entry.code) >= 200) continue;
        EXPECT_TRUE(producers().contains(entry.code)) << entry.word;
    }
}

}  // namespace
}  // namespace layproof::exchange
