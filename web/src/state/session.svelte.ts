// What the page knows of the job: the sheet, the answer of each view, the moment looked at, and whether
// the program still answers. Views read it; they never ask the program themselves for these.

import { ApiError, ask, pairingToken, sentence } from '../api/client';
import type {
    InboxAnswer,
    LayAnswer,
    PlanAnswer,
    ProveAnswer,
    SheetAnswer,
    SightsAnswer,
    Station,
    StationAnswer,
    VetAnswer,
    WatchAnswer,
    WatchRequest,
    WorkEvent,
} from '../generated/acts';
import { metresPer, type Shown } from '../format/length';
import { clock } from '../format/time';
import { Connection, type EventStream } from './connection';
import type { Tool } from '../tools/checks';
import { live } from './live.svelte';
import { planner } from './planner.svelte';
import { settings } from './settings.svelte';
import { keep, load } from './stored';
import { describeArrival, describeChange } from './changes';
import { Works } from './works';

export type View = 'vet' | 'station' | 'lay' | 'watch' | 'prove' | 'plan';
/** In the order of a job: what was handed over, where to stand, the set-up, the points, the day, the whole. */
export const kViews: View[] = ['vet', 'plan', 'station', 'lay', 'watch', 'prove'];
export const kViewWords: Record<View, string> = { vet: 'Vet', station: 'Station', lay: 'Lay', watch: 'Watch', prove: 'Prove', plan: 'Plan' };
/** What is vetted: the control that was handed over, or one of the crew's own tools. */
export type VetPart = 'control' | Tool;
export const kVetParts: [VetPart, string][] = [
    ['control', 'Control'],
    ['instrument', 'Instrument'],
    ['rod', 'Rod'],
];
export type Ground = NonNullable<WatchRequest['ground']>;

const kManyStations = 12;

class Session {
    view = $state<View>('station');
    vetPart = $state<VetPart>('control');
    sheet = $state.raw<SheetAnswer | null>(null);
    station = $state<string | null>(load<string | null>('station', null));
    /** Chosen by hand: taken up again as soon as the moment shown knows it. */
    private wanted: string | null = load<string | null>('station', null);
    asOf = $state<string | null>(null);

    vetAnswer = $state.raw<VetAnswer | null>(null);
    stationAnswer = $state.raw<StationAnswer | null>(null);
    layAnswer = $state.raw<LayAnswer | null>(null);
    planAnswer = $state.raw<PlanAnswer | null>(null);
    proveAnswer = $state.raw<ProveAnswer | null>(null);
    watchAnswer = $state.raw<WatchAnswer | null>(null);
    sights = $state.raw<SightsAnswer | null>(null);
    ground = $state<Ground>(load<Ground>('ground', 'slab'));
    rodHeight_m = $state<number | null>(null);
    /** How far a mark may be off; null: as the job says. */
    markPlan_mm = $state<number | null>(null);
    markHeight_mm = $state<number | null>(null);

    /** The sentence of the refusal that stands in place of an answer. */
    refused = $state<Record<View, string>>({ vet: '', station: '', lay: '', watch: '', prove: '', plan: '' });
    busy = $state(false);
    live = $state(true);
    unpaired = $state(false);
    /** Somebody stopped what this page had asked for. */
    isStopped = $state(false);
    work = $state.raw<WorkEvent | null>(null);
    inbox = $state.raw<InboxAnswer | null>(null);

    private head = '';
    /** The head that the program spoke of last. */
    private heard = '';
    private round = 0;
    private stopper: AbortController | null = null;
    private connection: Connection | null = null;
    private readonly works = new Works();

    get unit() {
        return this.sheet?.job.unit ?? null;
    }

    get shown(): Shown {
        return settings.shown(this.unit);
    }

    get current(): Station | null {
        return this.stationAnswer?.stations.find((s) => s.station === this.station) ?? null;
    }

    /** Too many set-ups to work them all out at each look: then Lay and Watch ask about one. */
    get isLarge(): boolean {
        return (this.sheet?.stations.length ?? 0) > kManyStations;
    }

    /** Metres of one unit of the job's coordinates. */
    get unit_m(): number {
        return metresPer(this.unit ?? 'm');
    }

    begin(): void {
        void this.reload();
        this.connection = new Connection({
            open: () => {
                const token = pairingToken();
                const query = token ? `?token=${encodeURIComponent(token)}` : '';
                return new EventSource(`/api/events${query}`) as unknown as EventStream;
            },
            setTimer: (run, ms) => setTimeout(run, ms),
            clearTimer: (timer) => clearTimeout(timer as ReturnType<typeof setTimeout>),
            onEvent: (type, data) => this.onEvent(type, data),
            onState: (isLive) => this.onLive(isLive),
        });
        this.connection.start();
        addEventListener('online', () => this.connection?.retryNow());
    }

    /** After pairing: everything again, with the token. */
    again(): void {
        this.unpaired = false;
        this.connection?.retryNow();
        void this.reload();
    }

    retryNow(): void {
        this.connection?.retryNow();
    }

    /** A stream of events has begun or was lost. */
    private onLive(isLive: boolean): void {
        this.works.forget();
        this.work = null;
        const wasLive = this.live;
        this.live = isLive;
        if (isLive && !wasLive) {
            live.show('layproof answers again.');
            void this.reload();
        } else if (!isLive && wasLive) {
            live.say('layproof is not answering. What you typed is kept here.');
        }
    }

    private onEvent(type: string, data: unknown): void {
        if (type === 'job') {
            const head = (data as { head?: unknown }).head;
            if (typeof head !== 'string') return;
            this.heard = head;
            if (head === this.head || this.head === '') return;
            if (this.asOf === null) void this.reload(true);
            else void this.refreshMoments();
        } else if (type === 'inbox') {
            this.inbox = data as InboxAnswer;
        } else if (type === 'work') {
            this.works.heard(data as WorkEvent);
            this.work = this.works.newest;
        }
    }

    /** While an earlier moment is looked at only the strip grows. */
    private async refreshMoments(): Promise<void> {
        try {
            const sheet = await ask('sheet', { as_of: this.asOf });
            this.sheet = sheet;
            this.head = sheet.job.head;
        } catch (error) {
            this.failed(error);
        }
    }

    /** Sheet and the answer of the view shown. `isNews`: something was recorded meanwhile. */
    async reload(isNews = false): Promise<void> {
        const round = ++this.round;
        this.stopper?.abort();
        this.stopper = new AbortController();
        const signal = this.stopper.signal;
        this.busy = true;
        this.isStopped = false;
        const before = this.current;
        const factsBefore = this.sheet?.job.facts ?? 0;
        try {
            const sheet = await ask('sheet', { as_of: this.asOf }, signal);
            if (round !== this.round) return;
            // Heard of before there was a sheet to hold it against.
            const isBehind = this.head === '' && this.heard !== '' && this.heard !== sheet.job.head;
            this.sheet = sheet;
            this.head = sheet.job.head;
            if (isBehind) {
                void this.reload();
                return;
            }
            this.station = sheet.stations.some((s) => s.station === this.wanted) ? this.wanted : lastStation(sheet);
            this.unpaired = false;
            await this.answers(round, signal);
            if (round === this.round && isNews) {
                const change = describeChange(before, this.current);
                live.show(`${describeArrival(sheet.job.facts - factsBefore)}${change ? ` ${change}` : ''}`);
            }
        } catch (error) {
            if (round === this.round) this.failed(error);
        } finally {
            if (round === this.round) this.busy = false;
        }
    }

    private failed(error: unknown): void {
        if (error instanceof DOMException && error.name === 'AbortError') return;
        if (error instanceof ApiError) {
            if (error.status === 401) this.unpaired = true;
            else if (error.isSilence) this.live = false;
            else if (error.refusal?.kind === 'stopped') this.isStopped = true;
            else live.show(error.message);
        } else {
            live.show(sentence(error));
        }
    }

    /** The answer of the view, and for tables the sights of the station. */
    private async answers(round: number, signal: AbortSignal): Promise<void> {
        const request = { as_of: this.asOf };
        const sheet = this.sheet;
        if (!sheet) return;
        const guard = async (view: View, run: () => Promise<void>) => {
            try {
                await run();
                if (round === this.round) this.refused[view] = '';
            } catch (error) {
                if (round !== this.round) return;
                if (error instanceof ApiError && error.status === 422 && error.refusal?.kind !== 'stopped') this.refused[view] = error.message;
                else throw error;
            }
        };
        if (sheet.marks.length === 0) this.vetAnswer = null;
        else if (this.view === 'vet') {
            await guard('vet', async () => {
                const answer = await ask(
                    'vet',
                    { ...request, tolerance_plan_mm: this.markPlan_mm, tolerance_height_mm: this.markHeight_mm },
                    signal,
                );
                if (round === this.round) this.vetAnswer = answer;
            });
        }
        if (sheet.marks.length === 0 || sheet.points.length === 0) this.planAnswer = null;
        else if (this.view === 'plan') {
            await guard('plan', async () => {
                const answer = await planner.plan(this.asOf, signal);
                if (round === this.round) this.planAnswer = answer;
            });
        }
        const station = this.station;
        if (sheet.stations.length === 0 || station === null) {
            this.stationAnswer = null;
            this.layAnswer = null;
            this.watchAnswer = null;
            this.proveAnswer = null;
            this.sights = null;
            return;
        }
        const only = this.isLarge ? station : null;
        if (this.view === 'station') {
            await guard('station', async () => {
                const [answer, sights] = await Promise.all([
                    ask('station', { ...request, station }, signal),
                    ask('sights', { ...request, station }, signal),
                ]);
                if (round !== this.round) return;
                this.stationAnswer = answer;
                this.sights = sights;
            });
        } else if (this.view === 'lay') {
            await guard('lay', async () => {
                const answer = await ask('lay', { ...request, station: only, rod_height_m: this.rodHeight_m }, signal);
                if (round === this.round) this.layAnswer = answer;
            });
        } else if (this.view === 'prove') {
            await guard('prove', async () => {
                const answer = await ask('prove', request, signal);
                if (round === this.round) this.proveAnswer = answer;
            });
        } else if (this.view === 'watch') {
            await guard('watch', async () => {
                const answer = await ask('watch', { ...request, station: only, ground: this.ground }, signal);
                if (round === this.round) this.watchAnswer = answer;
            });
        }
    }

    show(view: View): void {
        if (view === this.view) return;
        this.view = view;
        void this.reload();
    }

    chooseStation(station: string): void {
        this.wanted = station;
        if (station === this.station) return;
        this.station = station;
        keep('station', station);
        if (this.view === 'station') {
            this.stationAnswer = null;
            this.sights = null;
        }
        if (this.view === 'station' || this.isLarge) void this.reload();
    }

    chooseMoment(time: string | null): void {
        if (time === this.asOf) return;
        this.asOf = time;
        live.say(time === null ? 'Now shown.' : `Shown as known at ${clock(time, true)}.`);
        void this.reload();
    }

    chooseGround(ground: Ground): void {
        this.ground = ground;
        keep('ground', ground);
        void this.reload();
    }

    chooseTolerance(of: 'plan' | 'height', mm: number | null): void {
        if (of === 'plan') this.markPlan_mm = mm;
        else this.markHeight_mm = mm;
        void this.reload();
    }

    chooseRod(metres: number | null): void {
        this.rodHeight_m = metres;
        void this.reload();
    }
}

/** The set-up worked at last. */
function lastStation(sheet: SheetAnswer): string | null {
    let best: { station: string; last: string } | null = null;
    for (const s of sheet.stations) {
        const last = s.last ?? s.first ?? '';
        if (best === null || last >= best.last) best = { station: s.station, last };
    }
    return best?.station ?? null;
}

export const session = new Session();
