// Planning on the page: what is asked for, what was drawn, and the tripod that is tried.

import { ask, handFile, sentence } from '../api/client';
import type { PlaceAnswer, PlanDrawn, PlanRequest } from '../generated/acts';
import { keep, load } from './stored';

export type Drawing = PlanDrawn['kind'];

export class Planner {
    share = $state(0.95);
    rod_m = $state(1.5);
    instrumentHeight_m = $state(1.6);
    twoFaces = $state(false);
    drawn = $state.raw<PlanDrawn[]>(load<PlanDrawn[]>('plan.drawn', []));
    files = $state.raw<{ name: string; digest: string }[]>([]);
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

    async addFile(file: File): Promise<void> {
        const { digest } = await handFile(file.name, file);
        this.files = [...this.files, { name: file.name, digest }];
    }

    removeFile(at: number): void {
        this.files = this.files.filter((_, i) => i !== at);
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
                const here = await ask('place', { plan: this.request(as_of), ...at });
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
