#!/usr/bin/env python3
"""Is the judge itself right? The simulator against geometry and stated figures, the comparison against
answers that are made up. Needs no program. Standard library only.
"""

import json
import math
import pathlib
import sys
import tempfile
import unittest

sys.dont_write_bytecode = True
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
import answers as a  # noqa: E402
import days  # noqa: E402
import judge  # noqa: E402
import plants  # noqa: E402
import world as w  # noqa: E402


def exact(job):
    """No errors at all."""
    i = job.instrument
    i.angle_arcsec = i.distance_mm = i.ppm = i.bubble_arcmin = i.centring_mm = i.tape_mm = 0.0
    job.lay_jitter = 0.0
    for mark in job.marks.values():
        mark.true = list(mark.sheet)
    return job


def place(pose, circle, row, unit):
    """Where the target of a booked row is, by the plain polar formula."""
    flat = row.slope * math.sin(row.zenith)
    azimuth = circle + row.direction
    up = row.slope * math.cos(row.zenith) + (1 - w.REFRACTION) * flat * flat / 2 / w.EARTH
    return [pose[0] + flat * math.sin(azimuth), pose[1] + flat * math.cos(azimuth),
            pose[2] + up - row.rod]


class Simulator(unittest.TestCase):
    def test_readings_without_errors_lead_back_to_every_target(self):
        for unit in ("m", "ft", "us-ft"):
            job = exact(w.World(7, unit=unit, laying="good")).work()
            for row in job.rows:
                setup = next(s for s in job.setups if s.name == row.station)
                pose, circle = setup.at(row.time)
                found = place(pose, circle, row, unit)
                true = (job.marks[row.target].at(row.time) if row.target in job.marks
                        else job.points[row.target].laid)
                for x, y in zip(found, true):
                    self.assertAlmostEqual(x, y, delta=1e-6)

    def test_same_seed_same_files_other_seed_other_files(self):
        one, two, other = (w.World(s).work().sights_csv() for s in (11, 11, 12))
        self.assertEqual(one, two)
        self.assertNotEqual(one, other)

    def test_errors_have_the_stated_spread(self):
        job = w.World(5, laying="good", unit="m", setups=1)
        for setup in job.setups:
            setup.axes = [job.origin + 40.0, 2 * job.origin + 40.0, 101.6]
        tip = [job.origin + 70.0, 2 * job.origin + 40.0, 100.0]
        n = 20000
        read = [job.sight(job.setups[0], "CP1", tip, 1.5, 0.0, "control")[1] for _ in range(n)]
        i = job.instrument
        flat, rise = 30.0, 0.1
        plumb = math.hypot(1.5 * i.bubble_arcmin * 60 * w.ARCSEC, i.centring_mm / 1000)
        slope = math.hypot(flat, rise)
        wanted = (math.hypot(i.angle_arcsec * w.ARCSEC, plumb / flat),
                  math.hypot(i.angle_arcsec * w.ARCSEC, i.tape_mm / 1000 / slope),
                  math.hypot(math.hypot(i.distance_mm / 1000, i.ppm * 1e-6 * slope), plumb))
        for k in range(3):
            mean = sum(r[k] for r in read) / n
            sd = math.sqrt(sum((r[k] - mean) ** 2 for r in read) / (n - 1))
            # Four standard errors of a standard deviation from n draws.
            self.assertAlmostEqual(sd / wanted[k], 1.0, delta=4 / math.sqrt(2 * n))

    def test_two_faces_lead_to_one_place_and_show_the_index(self):
        job = exact(w.World(3, faces=2, laying="good"))
        job.index = 40.0 * w.ARCSEC
        job.work()
        one, two = job.rows[0], job.rows[1]
        self.assertEqual((one.face, two.face), (1, 2))
        self.assertAlmostEqual((two.direction - one.direction) % (2 * math.pi), math.pi, delta=1e-9)
        self.assertAlmostEqual(one.zenith + two.zenith - 2 * math.pi, 2 * job.index, delta=1e-9)

    def test_laying_by_reading_puts_the_point_where_the_field_pose_shows_it(self):
        job = w.World(9, laying="reading")
        job.lay_jitter = 0.0
        job.work()
        seen = set()
        for row in job.rows:
            if row.purpose == "lay" and row.target not in seen:
                seen.add(row.target)
                setup = next(s for s in job.setups if s.name == row.station)
                shown = job.in_the_field(setup, row.rod, (row.direction, row.zenith, row.slope))
                for x, y in zip(shown, job.points[row.target].design):
                    self.assertAlmostEqual(x, y, delta=1e-6)

    def test_a_bump_puts_points_laid_afterwards_out_by_it(self):
        job = exact(w.World(9, laying="reading", setups=1))
        setup = job.setups[0]
        middle = 0.5 * (setup.begin + setup.end)
        setup.bumps.append((middle, 0.05, 0.0, 0.0, 0.0))
        job.work()
        for p in job.points.values():
            if p.laid:
                self.assertAlmostEqual(p.off()[0], 0.05 if p.laid_at >= middle else 0.0, delta=1e-5)

    def test_times_rise_through_each_day(self):
        for case in plants.CASES:
            job, _ = case.make(77)
            for setup in job.setups:
                times = [r.time for r in job.rows if r.station == setup.name]
                self.assertEqual(times, sorted(times), case.name)
                self.assertEqual(len(set(times)), len(times), case.name)

    def test_angles_are_written_as_they_are_read(self):
        for text, seconds in (("0-00-00.0", 0.0), ("0-00-00.0", 1295999.96), ("359-59-59.9", 1295999.9),
                              ("12-34-56.7", 45296.7), ("1-00-00.0", 3599.98)):
            self.assertEqual(w.dms(seconds * w.ARCSEC), text)


class Plants(unittest.TestCase):
    def setUp(self):
        self.jobs = {c.name: c.make(4711) for c in plants.CASES}

    def test_names_are_unique_and_the_nineteen_are_there(self):
        names = [c.name for c in plants.CASES + days.KINDS]
        self.assertEqual(len(names), len(set(names)))
        self.assertEqual(sum(c.issue for c in plants.CASES), 19)

    def test_what_is_planted_is_named_with_words(self):
        for case in plants.CASES:
            planted = self.jobs[case.name][1]
            self.assertEqual(bool(planted), bool(case.acts), case.name)

    def test_paper_plants_leave_good_points(self):
        for case in plants.CASES:
            if case.gross:
                job = self.jobs[case.name][0]
                laid = [p for p in job.points.values() if p.laid]
                self.assertGreater(sum(p.is_within() for p in laid) / len(laid), 0.9, case.name)

    def test_swapped_sheet_has_the_places_exchanged(self):
        job, planted = self.jobs["names-swapped-on-sheet"]
        x, y = planted[0].subjects
        rows = {r.split(",")[0]: r.split(",")[1:4] for r in job.marks_csv().splitlines()[1:]}
        job.sheet_as_written = lambda name, p: (name, p)
        right = {r.split(",")[0]: r.split(",")[1:4] for r in job.marks_csv().splitlines()[1:]}
        self.assertEqual((rows[x], rows[y]), (right[y], right[x]))
        for other in set(rows) - {x, y}:
            self.assertEqual(rows[other], right[other])

    def test_feet_have_the_same_numbers_under_another_name(self):
        job, _ = self.jobs["feet-kinds"]
        self.assertIn("[us-ft]", job.marks_csv())
        self.assertIn("[ft]", job.points_csv())
        apart = job.points["A1"].design[0] / w.US_FT * w.FT - job.points["A1"].design[0]
        self.assertGreater(abs(apart), 1.0)

    def test_bolts_are_high_and_another_stands_on_its_neighbour(self):
        job, _ = self.jobs["bolts-1ft-high"]
        self.assertEqual(sum(p.laid is not None and p.off()[2] > 0.3 for p in job.points.values()), 18)
        job, planted = self.jobs["on-anothers-place"]
        x, y = planted[0].subjects
        self.assertLess(math.dist(job.points[x].laid[:2], job.points[y].design[:2]), 0.05)


class FakeWorld:
    def __init__(self):
        point = w.Point((10.0, 20.0, 1.0), 0.006, 0.012, 0, 0)
        point.laid = [10.001, 20.0, 1.0]
        self.points = {"A1": point}
        self.setups = []
        self.moments = []
        self.rows = [w.Row("S1", "A1", "lay", 1, 0.0, 0.4, 0.0, 1.5, 10.0)]


def lay(word="proven", p=0.99, says="Nothing to do.", off=(1.0, 0.0, 0.0), exit_status=None,
        overall=None, figures=0, because="fine"):
    off = dict(zip(("east_mm", "north_mm", "height_mm"), off))
    data = {"verdict": {"word": overall or word, "probability": p, "because": because, "next": ""},
            "laid": [{"point": "A1", "word": word, "probability": p, "next": says,
                      "deviation": off, "expected": off, "sd_plan_mm": 2.0, "sd_height_mm": 1.0}],
            "stations": [{"station": "S1", "verdict": {"word": "proven", "probability": 0.99,
                                                       "because": "", "next": ""},
                          "setting_out": [{"point": "A2", "direction_deg": 1.0}] * figures}]}
    status = (0 if word == "proven" else 1) if exit_status is None else exit_status
    return a.Answer("lay", status, data, "", None, "files")


def watch(word="proven", p=0.99, causes=(), holds="Nothing says that the station moved."):
    off = {"east_mm": 1.0, "north_mm": 0.0, "height_mm": 0.0}
    sd = {"east_mm": 1.0, "north_mm": 1.0, "height_mm": 1.0}
    verdict = {"word": word, "probability": p, "because": holds, "next": ""}
    members = [{"probability": 0.9, "changes": [{"cause": c, "subject": s} for c, s in causes]}]
    data = {"stations": [{"station": "S1", "verdict": verdict,
                          "station_verdict": {"word": "proven", "probability": 0.99},
                          "hypotheses": [{"says": "", "members": members}],
                          "points": [{"point": "A1", "word": word, "probability": p,
                                      "corrected": off, "sd": sd}]}]}
    return a.Answer("watch", 0 if word == "proven" else 1, data, "", None, "files")


def kinds(answered, case=None, planted=(), outputs=()):
    case = case or plants.Case("none", None, acts=("lay", "watch"))
    result = judge.judge(case, 1, FakeWorld(), planted, answered, list(outputs))
    return result, {kind for kind, _ in result.faults}


class Days(unittest.TestCase):
    def test_moments_lie_between_two_sightings_before_and_after(self):
        for case in days.KINDS:
            job, _ = case.make(99)
            for _, subject, when, _ in job.moments:
                times = [r.time for r in job.rows if subject in (r.target, r.station)]
                self.assertTrue(min(times) < when < max(times), case.name)

    def test_detectable_size_shrinks_with_better_tools_and_grows_with_worse(self):
        sizes = []
        for factor in (0.5, 1.0, 2.0):
            job = w.World(5, setups=1, laying="good").work()
            i = job.instrument
            for key in ("angle_arcsec", "distance_mm", "ppm", "bubble_arcmin", "centring_mm"):
                setattr(i, key, getattr(i, key) * factor)
            for mark in job.marks.values():
                mark.sd *= factor
            s = job.setups[0]
            sizes.append(days.detectable(job, s, 0.5 * (s.begin + s.end), (1.0, 0.0, 0.0)))
        # Everything is linear in the standard deviations.
        self.assertAlmostEqual(sizes[0] / sizes[1], 0.5, delta=1e-6)
        self.assertAlmostEqual(sizes[2] / sizes[1], 2.0, delta=1e-6)


class Comparison(unittest.TestCase):
    def test_answers_that_agree_have_no_fault(self):
        result, found = kinds([lay(), watch()])
        self.assertEqual(found, set())
        self.assertEqual((result.points, result.differing), (1, 0))

    def test_a_probability_that_differs_by_more_than_a_millionth_is_found(self):
        self.assertEqual(kinds([lay(p=0.99), watch(p=0.990002)])[1], {"differs"})
        self.assertEqual(kinds([lay(p=0.99), watch(p=0.9900009)])[1], set())

    def test_another_word_is_found_and_a_day_of_two_words(self):
        result, found = kinds([lay(), watch("in doubt")])
        self.assertEqual(found, {"differs", "overall"})
        self.assertEqual(result.differing_plainly, 1)

    def test_a_list_may_round_but_not_differ(self):
        said = lambda p: a.Said("point", "A1", "proven", p, "lay/files as-laid.csv", a.FOUR_DIGITS)
        self.assertEqual(kinds([lay(p=0.99123), watch(p=0.99123)], outputs=[said(0.9912)])[1], set())
        self.assertEqual(kinds([lay(p=0.99123), watch(p=0.99123)], outputs=[said(0.9914)])[1],
                         {"differs"})

    def test_a_point_that_is_left_out_is_found(self):
        short = watch()
        short.data["stations"][0]["points"] = []
        self.assertIn("missing", kinds([lay(), short])[1])

    def test_a_good_point_sent_out_of_tolerance_is_found(self):
        sent = lay("fails", 0.01, "Move it 0.030 m toward A and sight it again.", (0.0, 30.0, 0.0))
        result, found = kinds([sent, watch("fails", 0.01)])
        self.assertIn("spoilt", found)
        self.assertEqual((result.good, result.good_told, result.spoilt), (1, 1, 1))

    def test_a_small_move_that_keeps_it_within_is_none(self):
        sent = lay("in doubt", 0.9, "Move it 0.001 m toward A and sight it again.", (1.0, 0.0, 0.0))
        result, found = kinds([sent, watch("in doubt", 0.9)])
        self.assertNotIn("spoilt", found)
        self.assertEqual(result.good_told, 1)

    def test_exit_and_word_must_go_together(self):
        self.assertIn("exit", kinds([lay("fails", 0.01, exit_status=0), watch("fails", 0.01)])[1])
        self.assertIn("overall", kinds([lay("fails", 0.01, overall="in doubt"),
                                        watch("fails", 0.01)])[1])

    def test_a_cause_counts_as_named_with_kind_subject_and_probability(self):
        planted = [plants.Planted(("mark-moved",), ["CP2"], "CP2 moved")]
        case = plants.Case("one", None, acts=("watch",))
        self.assertEqual(kinds([lay(), watch(causes=[("mark-moved", "CP2")])], case, planted)[1],
                         set())
        for wrong in (("mark-moved", "CP22"), ("rod-not-plumb", "CP2")):
            self.assertEqual(kinds([lay(), watch(causes=[wrong])], case, planted)[1], {"cause"})

    def test_figures_under_a_gross_cause_are_found(self):
        case = plants.Case("gross", None, gross=True, acts=())
        self.assertIn("figures", kinds([lay(figures=3), watch()], case)[1])

    def test_figures_from_a_station_that_fails_are_found(self):
        answer = lay(figures=3)
        answer.data["stations"][0]["verdict"]["word"] = "fails"
        self.assertIn("figures", kinds([answer, watch()])[1])

    def test_a_job_asked_about_one_set_up_is_held_against_the_whole(self):
        whole, one = lay(p=0.99), lay(p=0.98)
        whole.how, one.how = "job", "job S1"
        self.assertEqual(kinds([lay(), watch(), whole, one])[1], {"narrow"})
        one = lay(p=0.99)
        one.how = "job S1"
        self.assertEqual(kinds([lay(), watch(), whole, one])[1], set())

    def test_a_sentence_that_contradicts_itself_is_found(self):
        says = "Nothing says that the station moved. 3 are proven; because of a move 2 are not."
        self.assertIn("contradicts", kinds([lay(), watch(holds=says)])[1])

    def test_a_length_beyond_any_site_is_found(self):
        self.assertIn("absurd", kinds([lay(because="2008326.989 ft off"), watch()])[1])

    def test_moves_are_read_in_every_unit(self):
        off = {"east_mm": -3.0, "north_mm": -4.0, "height_mm": 6.0}
        move = a.best_move(off, {"next": "Move it 0.003 m toward 1, 0.004 m toward A, 0.006 m down "
                                         "and sight it again."})
        for x, y in zip(move, (0.003, 0.004, -0.006)):
            self.assertAlmostEqual(x, y, delta=1e-12)
        move = a.best_move(off, {"next": "Move it 0.010 ft toward A and sight it again."})
        self.assertAlmostEqual(math.hypot(*move[:2]), 0.010 * 0.3048, delta=1e-12)


class Lists(unittest.TestCase):
    def read(self, name, text, reader):
        with tempfile.TemporaryDirectory() as folder:
            path = pathlib.Path(folder) / name
            path.write_text(text, encoding="utf-8")
            return [(s.name, s.word, s.probability) for s in reader(path, "x")]

    def test_every_kind_of_list_is_read(self):
        self.assertEqual(self.read("as-laid.csv", "point,word,probability\nA1,fails,0.0100\n",
                                   a.from_csv), [("A1", "fails", 0.01)])
        self.assertEqual(self.read("a.xml", '<CgPoint name="A1 laid" desc="in doubt" role="x">',
                                   a.from_landxml), [("A1", "in doubt", None)])
        self.assertEqual(self.read("a.svg", "<title>A1: proven, 99.2 % probable to be</title>"
                                   "<title>B2 at 14:11: in doubt</title><title>C3: to lay</title>",
                                   a.from_svg), [("A1", "proven", 0.992), ("B2", "in doubt", None)])
        self.assertEqual(self.read("a.txt", "  A1  S1  +0.1 ft  0.021 ft    98.5 %  proven\n"
                                   "  A2  S1  less than 0.1 %  fails  because\nStation S1: PROVEN\n",
                                   a.from_text), [("A1", "proven", 0.985), ("A2", "fails", None)])
        dxf = "  1\nA1 laid\n  2\nNAME\n  0\nATTRIB\n  1\nproven\n  2\nWORD\n"
        self.assertEqual(self.read("a.dxf", dxf, a.from_dxf), [("A1", "proven", None)])
        html = "<tr><td>A1</td><td>S1</td><td>99.1 %</td><td><svg/>proven</td></tr>"
        self.assertEqual([(n, x) for n, x, _ in self.read("r.html", html, a.from_html)],
                         [("A1", "proven")])
        feature = {"features": [{"properties": {"mark": "CP1", "word": "proven",
                                                "probability": 0.9}}]}
        self.assertEqual(self.read("m.geojson", json.dumps(feature), a.from_geojson),
                         [("CP1", "proven", 0.9)])


if __name__ == "__main__":
    unittest.main()
