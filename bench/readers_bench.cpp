// Readers of the open formats on large invented files, made in memory: time and peak memory.
//
//     readers_bench                       all, each in one run, with libxml2's own pass beside
//     LandXML readers_bench landxml 100           one, of about 100 MB: the peak memory is then its
//     own
//
// The peak is that of the whole process, the file in memory included.

#include <fmt/format.h>
#include <libxml/xmlreader.h>
#include <sys/resource.h>

#include <chrono>
#include <cstdlib>
#include <string>
#include <string_view>

#include "base/random.hpp"
#include "exchange/dxf/dxf.hpp"
#include "exchange/geojson/geojson.hpp"
#include "exchange/ifc/ifc.hpp"
#include "exchange/import/import.hpp"
#include "exchange/landxml/landxml.hpp"

namespace {

using namespace layproof;
using exchange::Document;

std::string landxml(std::size_t bytes) {
    Random random(1);
    std::string out =
        "<?xml version=\"1.0\"?>\n<LandXML xmlns=\"http://www.landxml.org/schema/LandXML-1.2\" "
        "version=\"1.2\" date=\"2026-03-04\" time=\"07:45:00\">\n<Units><Imperial "
        "linearUnit=\"USSurveyFoot\" angularUnit=\"decimal dd.mm.ss\"/></Units>\n<CgPoints>\n";
    out.reserve(bytes + bytes / 8);
    int point = 0;
    while (out.size() < bytes / 2) {
        out += fmt::format(
            "<CgPoint name=\"{}\" desc=\"invented {}\" pntSurv=\"sideShot\">{:.9f} {:.9f} "
            "{:.9f}</CgPoint>\n",
            point, point % 97, 2e6 + 1000 * random.uniform(), 6e6 + 1000 * random.uniform(),
            100 * random.uniform());
        ++point;
    }
    out +=
        "</CgPoints>\n<Survey><SurveyHeader name=\"invented\"/>\n<InstrumentSetup id=\"s\" "
        "stationName=\"S\" instrumentHeight=\"5.1\"><InstrumentPoint pntRef=\"0\"/>\n";
    for (int i = 0; out.size() < bytes; ++i) {
        out += fmt::format(
            "<RawObservation targetHeight=\"5.820209\" horizAngle=\"{:.4f}\" "
            "slopeDistance=\"{:.9f}\" zenithAngle=\"89.5947\"><TargetPoint pntRef=\"{}\"/>"
            "</RawObservation>\n",
            random.below(360) + 0.3025, 10 + 300 * random.uniform(), i % point);
    }
    return out + "</InstrumentSetup></Survey></LandXML>\n";
}

std::string ifc(std::size_t bytes) {
    Random random(2);
    std::string out =
        "ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\n"
        "#1=IFCPROJECT('p',$,'invented',$,$,$,$,$,#2);\n#2=IFCUNITASSIGNMENT((#3));\n"
        "#3=IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.);\n#4=IFCCARTESIANPOINT((0.,0.,0.));\n"
        "#5=IFCAXIS2PLACEMENT3D(#4,$,$);\n#6=IFCLOCALPLACEMENT($,#5);\n";
    out.reserve(bytes + bytes / 8);
    // Mostly what models are made of, geometry, with a column every 40 records.
    for (std::size_t id = 10; out.size() < bytes; id += 40) {
        out += fmt::format(
            "#{}=IFCCARTESIANPOINT(({:.3f},{:.3f},0.));\n#{}=IFCAXIS2PLACEMENT3D(#{},$,$);\n"
            "#{}=IFCLOCALPLACEMENT(#6,#{});\n"
            "#{}=IFCCOLUMN('{:022}',$,'C {}',$,$,#{},$,'T{}',.COLUMN.);\n",
            id, 1e5 * random.uniform(), 1e5 * random.uniform(), id + 1, id, id + 2, id + 1, id + 3,
            id, id, id + 2, id);
        for (std::size_t k = 4; k < 40; ++k) {
            out += fmt::format("#{}=IFCCARTESIANPOINT(({:.6f},{:.6f},{:.6f}));\n", id + k,
                               random.uniform(), random.uniform(), random.uniform());
        }
    }
    return out + "ENDSEC;\nEND-ISO-10303-21;\n";
}

std::string dxf(std::size_t bytes) {
    Random random(3);
    std::string out =
        "  0\nSECTION\n  2\nHEADER\n  9\n$INSUNITS\n 70\n6\n  0\nENDSEC\n  0\nSECTION\n"
        "  2\nENTITIES\n";
    out.reserve(bytes + bytes / 8);
    for (int i = 0; out.size() < bytes; ++i) {
        const double x = 1000 * random.uniform();
        const double y = 1000 * random.uniform();
        out += fmt::format(
            "  0\nPOINT\n  8\nPTS\n 10\n{:.9f}\n 20\n{:.9f}\n 30\n1.5\n  0\nTEXT\n  8\nNAMES\n 10\n"
            "{:.9f}\n 20\n{:.9f}\n 40\n0.01\n  1\nP{}\n",
            x, y, x + 0.01, y, i);
        for (int k = 0; k < 8; ++k) {
            out += fmt::format(
                "  0\nLINE\n  8\nWALL\n 10\n{:.9f}\n 20\n{:.9f}\n 11\n{:.9f}\n 21\n{:.9f}\n", x, y,
                x + k, y + 1);
        }
    }
    return out + "  0\nENDSEC\n  0\nEOF\n";
}

std::string geojson(std::size_t bytes) {
    Random random(4);
    std::string out = "{\"type\":\"FeatureCollection\",\"features\":[";
    out.reserve(bytes + bytes / 8);
    for (int i = 0; out.size() < bytes; ++i) {
        out += fmt::format(
            "{}{{\"type\":\"Feature\",\"geometry\":{{\"type\":\"Point\",\"coordinates\":"
            "[{:.9f},{:.9f}]}},\"properties\":{{\"name\":\"P{}\"}}}}\n",
            i == 0 ? "" : ",", 8.4 + 0.001 * random.uniform(), 49.1 + 0.001 * random.uniform(), i);
    }
    return out + "]}";
}

double cpu_seconds() {
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    const auto seconds = [](const timeval& t) {
        return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
    };
    return seconds(usage.ru_utime) + seconds(usage.ru_stime);
}

double peak_mib() {
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

/// libxml2 going through all nodes and doing nothing with them: what no reader on it can beat.
double bare_pass_s(const std::string& bytes) {
    const double begin = cpu_seconds();
    xmlTextReaderPtr reader = xmlReaderForMemory(bytes.data(), static_cast<int>(bytes.size()),
                                                 nullptr, nullptr, XML_PARSE_NONET);
    while (xmlTextReaderRead(reader) == 1) continue;
    xmlFreeTextReader(reader);
    return cpu_seconds() - begin;
}

void run(std::string_view format, std::size_t megabytes) {
    const std::size_t bytes = megabytes * 1'000'000;
    Document document{std::string(format), {}};
    if (format == "landxml") document.bytes = landxml(bytes);
    if (format == "ifc") document.bytes = ifc(bytes);
    if (format == "dxf") document.bytes = dxf(bytes);
    if (format == "geojson") document.bytes = geojson(bytes);
    exchange::ReadOptions options;
    options.unit = measure::LengthUnit::metre;
    const double before_mib = peak_mib();
    const double begin = cpu_seconds();
    std::string said;
    if (format == "geojson") {
        const auto read = exchange::read_geographic_points(document);
        said = read ? fmt::format("{} points", read->points.size()) : read.refusal().to_text();
    } else {
        const auto read = exchange::read_open_format(document, options);
        said = read ? fmt::format("{} points, {} sights", read->points.size(), read->sights.size())
                    : read.refusal().to_text();
    }
    const double took = cpu_seconds() - begin;
    fmt::print("{:8} {:6.1f} MB  {:6.2f} s CPU  peak {:6.0f} MiB (before {:.0f})  {}\n", format,
               static_cast<double>(document.bytes.size()) / 1e6, took, peak_mib(), before_mib,
               said);
    if (format == "landxml") {
        fmt::print("{:8} {:>9}  {:6.2f} s CPU  libxml2 alone, its reader doing nothing\n", "", "",
                   bare_pass_s(document.bytes));
    }
}

}  // namespace

int main(int argc, char** argv) {
    if (argc > 2) {
        run(argv[1], static_cast<std::size_t>(std::strtoul(argv[2], nullptr, 10)));
        return 0;
    }
    run("landxml", 100);
    run("ifc", 50);
    run("dxf", 100);
    run("geojson", 20);
    return 0;
}
