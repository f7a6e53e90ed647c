// Planning on the page: what is asked for, what was drawn, and the tripod that is tried.

import { ask, sentence } from '../../api/client';
import type { PlaceAnswer, PlanAnswer, PlanDrawn, PlanRequest } from '../../generated/acts';
import { askWith, restored, send, type KeptFile, type SentFile } from '../../state/sent_file';
import { keep, load } from '../../state/stored';

export type Drawing = PlanDrawn['kind'];

export class Planner {
    share = $state(0.95);
    rod_m = $state(1.5);
    instrumentHeight_m = $state(1.6);
    twoFaces = $state(false);
    drawn = $state.raw<PlanDrawn[]>(load<PlanDrawn[]>('plan.drawn', []));
    /** Of obstacles. */
    files = $state.raw<SentFile[]>(load<KeptFile[]>('plan.files', []).flatMap((kept) => restored(kept) ?? []));
    /** What a tap on the plan adds a corner to; null: nothing is being drawn. */
    drawing = $state<Drawing | null>(null);
    corners = $state.raw<[number, number][]>([]);
    tripod = $state.raw<{ east: number; north: number } | null>(null);
    here = $state.raw<PlaceAnswer | null>(null);
    says = $state('');
    /** How long the last answer about the tripod took. */
    took_ms = $state(0);
    private asking = false;
    private wanted: { east: number; north: number } | null = null;

    request(as_of: string | null): PlanRequest {
        return {
            as_of,
            share: this.share,
            rod_m: this.rod_m,
            instrument_height_m: this.instrumentHeight_m,
            two_faces: this.twoFaces,
            files: this.files.map((f) => f.digest),
            drawn: this.drawn,
        };
    }

    plan(as_of: string | null, signal: AbortSignal): Promise<PlanAnswer> {
        return askWith(this.files, () => ask('plan', this.request(as_of), signal));
    }

    async addFile(file: File): Promise<void> {
        this.changeFiles([...this.files, await send(file)]);
    }

    removeFile(at: number): void {
        this.changeFiles(this.files.filter((_, i) => i !== at));
    }

    private changeFiles(files: SentFile[]): void {
        this.files = files;
        keep('plan.files', files.length > 0 ? files.flatMap((f) => f.kept ?? []) : null);
    }

    begin(kind: Drawing): void {
        this.drawing = kind;
        this.corners = [];
    }

    corner(east: number, north: number): void {
        this.corners = [...this.corners, [east, north]];
    }

    cornerBack(): void {
        this.corners = this.corners.slice(0, -1);
    }

    /** True when something was drawn. */
    finish(): boolean {
        const kind = this.drawing;
        const path = this.corners;
        this.drawing = null;
        this.corners = [];
        if (kind === null || path.length < 3) return false;
        this.drawn = [...this.drawn, { kind, path }];
        keep('plan.drawn', this.drawn);
        return true;
    }

    removeDrawn(at: number): void {
        this.drawn = this.drawn.filter((_, i) => i !== at);
        keep('plan.drawn', this.drawn);
    }

    /** Puts the tripod somewhere; of many places in a row the latest is asked about. */
    moveTo(east: number, north: number, as_of: string | null): void {
        this.tripod = { east, north };
        this.wanted = { east, north };
        if (!this.asking) void this.follow(as_of);
    }

    takeAway(): void {
        this.tripod = null;
        this.here = null;
        this.wanted = null;
    }

    private async follow(as_of: string | null): Promise<void> {
        this.asking = true;
        while (this.wanted) {
            const at = this.wanted;
            this.wanted = null;
            const began = performance.now();
            try {
                const here = await askWith(this.files, () => ask('place', { plan: this.request(as_of), ...at }));
                this.took_ms = performance.now() - began;
                if (this.tripod) this.here = here;
                this.says = '';
            } catch (error) {
                this.says = sentence(error);
            }
        }
        this.asking = false;
    }
}

export const planner = new Planner();
