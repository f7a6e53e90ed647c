// The day of a set-up on a line of time, as plain numbers for drawing.

import type { WatchStation } from '../../generated/acts';
import { instant } from '../../format/time';

export interface DayMark {
    at: number;
    kind: 'check' | 'point' | 'start' | 'other';
    name: string;
    good: boolean | null;
    word: string | null;
    time: string;
}

export interface DayBand {
    from: number;
    to: number;
    probability: number;
}

export interface DayPath {
    at: number;
    shift_mm: number;
    sd_mm: number;
}

export interface Day {
    start_ms: number;
    end_ms: number;
    marks: DayMark[];
    bands: DayBand[];
    path: DayPath[];
    most_mm: number;
    due: number | null;
    hours: { at: number; label: string }[];
}

/** A move is drawn when it is more than a whisper. */
const kShown = 0.05;

export function dayOf(watched: WatchStation): Day | null {
    const times = watched.events.map((e) => instant(e.time)).filter((t): t is number => t !== null);
    const start = instant(watched.set_up_finished) ?? times[0];
    if (start === undefined || start === null) return null;
    const due_ms = watched.next_check ? instant(watched.next_check.due) : null;
    const begin_ms = Math.min(start, ...times);
    const end_ms = Math.max(start + 3_600_000, ...times, due_ms ?? 0);
    const at = (ms: number) => (ms - begin_ms) / (end_ms - begin_ms);
    const words = new Map(watched.points.map((p) => [p.point, p.word]));
    const marks: DayMark[] = [];
    const path: DayPath[] = [];
    let most_mm = 0;
    for (const e of watched.events) {
        const ms = instant(e.time);
        if (ms === null) continue;
        const word = e.name === null ? null : (words.get(e.name) ?? null);
        const kind = e.event === 'check' ? 'check' : word ? 'point' : e.event.startsWith('set-up') ? 'start' : 'other';
        marks.push({ at: at(ms), kind, name: e.name ?? '', good: e.good, word, time: e.time });
        const shift_mm = Math.hypot(e.pose.east_mm ?? 0, e.pose.north_mm ?? 0);
        const sd_mm = Math.hypot(e.sd.east_mm ?? 0, e.sd.north_mm ?? 0);
        path.push({ at: at(ms), shift_mm, sd_mm });
        most_mm = Math.max(most_mm, shift_mm + 2 * sd_mm);
    }
    const bands = watched.moves
        .filter((m) => m.probability >= kShown)
        .map((m) => ({
            from: at(instant(m.from ?? '') ?? begin_ms),
            to: at(instant(m.to ?? '') ?? end_ms),
            probability: m.probability,
        }));
    return {
        start_ms: begin_ms,
        end_ms,
        marks,
        bands,
        path,
        most_mm,
        due: due_ms === null ? null : at(due_ms),
        hours: wholeHours(watched.set_up_finished, begin_ms, end_ms, at),
    };
}

/** Whole hours of the site's clock, as the text of a time of that day writes it. */
function wholeHours(
    sample: string,
    begin_ms: number,
    end_ms: number,
    at: (ms: number) => number,
): { at: number; label: string }[] {
    const zone = /([+-])(\d{2}):?(\d{2})$/.exec(sample.trim());
    const offset_ms = zone
        ? (zone[1] === '-' ? -1 : 1) * (Number(zone[2]) * 60 + Number(zone[3])) * 60_000
        : -new Date(begin_ms).getTimezoneOffset() * 60_000;
    const hour = 3_600_000;
    const step = Math.max(1, Math.ceil((end_ms - begin_ms) / hour / 8)) * hour;
    const out: { at: number; label: string }[] = [];
    for (let t = Math.ceil((begin_ms + offset_ms) / step) * step; t <= end_ms + offset_ms; t += step) {
        const h = Math.floor(t / hour) % 24;
        out.push({ at: at(t - offset_ms), label: `${String(h).padStart(2, '0')}:00` });
    }
    return out;
}
