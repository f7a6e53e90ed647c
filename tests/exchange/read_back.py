"""Reads what layproof wrote with programs that are not layproof's own.

read_back.py dxf FILE      lines "layer name x y z" of every insert, "line layer x1 y1 x2 y2", header
read_back.py landxml FILE  lines "group name north east height"; fails on an element or attribute
                           that LandXML 1.2 does not have at that place, or one that it demands
"""

import sys
import xml.etree.ElementTree

SPACE = "{http://www.landxml.org/schema/LandXML-1.2}"
POINT = "name desc code state pntRef role pntSurv oID northingStdError eastingStdError elevationStdError"
# element: demanded attributes, allowed attributes, allowed children; after the LandXML 1.2 schema.
RULES = {
    "LandXML": ("date time version", "", "Units CoordinateSystem Project Application CgPoints Survey"),
    "Units": ("", "", "Metric Imperial"),
    "Metric": ("areaUnit linearUnit volumeUnit temperatureUnit pressureUnit",
               "angularUnit directionUnit", ""),
    "Imperial": ("areaUnit linearUnit volumeUnit temperatureUnit pressureUnit",
                 "angularUnit directionUnit", ""),
    "CoordinateSystem": ("", "name desc epsgCode", ""),
    "Project": ("name", "desc", ""),
    "Application": ("name", "version", ""),
    "CgPoints": ("", "name desc", "CgPoint CgPoints Feature"),
    "CgPoint": ("", POINT, ""),
    "Feature": ("", "code", "Property"),
    "Property": ("label value", "", ""),
    "Survey": ("", "desc date", "SurveyHeader InstrumentSetup TargetSetup ObservationGroup"),
    "SurveyHeader": ("name", "", ""),
    "InstrumentSetup": ("id stationName instrumentHeight", "orientationAzimuth",
                        "InstrumentPoint Backsight TargetSetup RawObservation ObservationGroup"),
    "InstrumentPoint": ("", POINT, ""),
    "TargetSetup": ("", "id targetHeight prismConstant", ""),
    "ObservationGroup": ("id", "purpose setupID targetSetupID", "RawObservation ReducedObservation"),
    "RawObservation": ("", "setupID targetSetupID purpose targetHeight horizAngle slopeDistance "
                           "zenithAngle horizDistance directFace timeStamp", "TargetPoint"),
    "ReducedObservation": ("", "purpose setupID targetHeight azimuth horizDistance vertDistance "
                               "horizAngle slopeDistance zenithAngle", "TargetPoint"),
    "TargetPoint": ("", POINT, ""),
}
VALUES = {
    "role": {"to stake out", "staked out", "control point"},
    "purpose": {"check", "backsight", "resection", "sideshot", "asbuilt", "cutSheets"},
    "pntSurv": {"control"},
    "linearUnit": {"meter", "foot", "USSurveyFoot"},
    "angularUnit": {"decimal degrees"},
    "volumeUnit": {"cubicMeter", "cubicFeet"},
    "areaUnit": {"squareMeter", "squareFoot"},
    "pressureUnit": {"HPA", "inHG"},
    "directFace": {"true", "false"},
}


def check(element):
    name = element.tag.removeprefix(SPACE)
    demanded, allowed, children = (set(part.split()) for part in RULES[name])
    present = set(element.keys())
    assert demanded <= present, f"{name} lacks {demanded - present}"
    assert present <= demanded | allowed, f"{name} has {present - demanded - allowed}"
    for key, value in element.items():
        assert key not in VALUES or value in VALUES[key], f"{name} {key}={value}"
    for child in element:
        assert child.tag.removeprefix(SPACE) in children, f"{child.tag} in {name}"
        check(child)


def landxml(path):
    root = xml.etree.ElementTree.parse(path).getroot()
    assert root.tag == SPACE + "LandXML"
    check(root)
    ids = [e.get("id") for e in root.iter() if e.get("id") is not None]
    assert len(ids) == len(set(ids)) and all(i[0].isalpha() for i in ids), "ids"
    for key in ("setupID", "targetSetupID"):
        assert all(e.get(key) in ids for e in root.iter() if e.get(key) is not None), key
    for group in root.iter(SPACE + "CgPoints"):
        for point in group.findall(SPACE + "CgPoint"):
            parts = point.text.split() + ["-"]
            print("\t".join([group.get("name"), point.get("name"), *parts[:3]]))


def dxf(path):
    import ezdxf
    from ezdxf.lldxf.encoding import decode_dxf_unicode

    drawing = ezdxf.readfile(path)
    assert not drawing.audit().errors
    print("header\t" + drawing.dxfversion)
    for insert in drawing.modelspace().query("INSERT"):
        at = insert.dxf.insert
        name = decode_dxf_unicode(insert.get_attrib_text("NAME"))
        print("\t".join([insert.dxf.layer, name, repr(at.x), repr(at.y), repr(at.z)]))
    for line in drawing.modelspace().query("LINE"):
        ends = (line.dxf.start, line.dxf.end)
        print("\t".join(["line", line.dxf.layer] + [repr(v) for e in ends for v in (e.x, e.y)]))


if __name__ == "__main__":
    {"landxml": landxml, "dxf": dxf}[sys.argv[1]](sys.argv[2])
