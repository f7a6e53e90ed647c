// What the page knows of the job: the sheet, the answer of each view, the moment looked at, and whether
// the program still answers. Views read it; they never ask the program themselves for these.

import { ApiError, ask, pairingToken, sentence } from '../api/client';
import { kQuestions, kViews, type Answers, type View } from '../acts/questions';
import type { InboxAnswer, SheetAnswer, Station, WorkEvent } from '../generated/acts';
import { metresPer, type Shown } from '../format/length';
import { clock } from '../format/time';
import { Connection, type EventStream } from './connection';
import { live } from './live.svelte';
import { settings } from './settings.svelte';
import { keep, load } from './stored';
import { describeArrival, describeChange } from './changes';
import { Works } from './works';

const kManyStations = 12;

class Session {
    view = $state<View>('station');
    sheet = $state.raw<SheetAnswer | null>(null);
    station = $state<string | null>(load<string | null>('station', null));
    /** Chosen by hand: taken up again as soon as the moment shown knows it. */
    private wanted: string | null = load<string | null>('station', null);
    asOf = $state<string | null>(null);

    /** The last answer of each view. */
    private answers = $state.raw<Partial<Answers>>({});

    /** The sentence of the refusal that stands in place of an answer. */
    refused = $state<Partial<Record<View, string>>>({});
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

    /** The last answer of a view, also when what was asked since is refused. */
    answer<V extends View>(view: V): Answers[V] | null {
        return this.answers[view] ?? null;
    }

    /** The answer of a view, unless a refusal stands in its place. */
    standing<V extends View>(view: V): Answers[V] | null {
        return this.refused[view] ? null : this.answer(view);
    }

    get current(): Station | null {
        return this.answer('station')?.answer.stations.find((s) => s.station === this.station) ?? null;
    }

    /** What has to come first, or why the question of the view was refused; empty when neither. */
    get obstacle(): string {
        if (!this.sheet) return this.live ? '' : 'Waiting for layproof.';
        return kQuestions[this.view].missing(this.sheet) || (this.refused[this.view] ?? '');
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
            await this.ask(round, signal);
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

    /** Asks what the view shows; what can no longer be asked has no answer any more. */
    private async ask(round: number, signal: AbortSignal): Promise<void> {
        const sheet = this.sheet;
        if (!sheet) return;
        const known = kViews.filter((v) => kQuestions[v].missing(sheet) === '').map((v) => [v, this.answers[v]]);
        this.answers = Object.fromEntries(known) as Partial<Answers>;
        const view = this.view;
        if (kQuestions[view].missing(sheet) !== '') return;
        const station = this.station ?? '';
        try {
            const answer = await kQuestions[view].ask({ as_of: this.asOf, sheet, station, only: this.isLarge ? station : null, signal });
            if (round !== this.round) return;
            this.answers = { ...this.answers, [view]: answer };
            this.refused[view] = '';
        } catch (error) {
            if (round !== this.round) return;
            if (error instanceof ApiError && error.status === 422 && error.refusal?.kind !== 'stopped') this.refused[view] = error.message;
            else throw error;
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
        if (kQuestions[this.view].isOfOneSetup) this.answers = { ...this.answers, [this.view]: undefined };
        if (kQuestions[this.view].isOfOneSetup || this.isLarge) void this.reload();
    }

    chooseMoment(time: string | null): void {
        if (time === this.asOf) return;
        this.asOf = time;
        live.say(time === null ? 'Now shown.' : `Shown as known at ${clock(time, true)}.`);
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
