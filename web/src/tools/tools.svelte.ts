// What was typed or dropped for the field checks, and what the program says of it. Rows and files
// stay on this device until they are cleared.

import { ApiError, ask, handFile, sentence } from '../api/client';
import type { ToolsAnswer, ToolsRequest, ToolsTable } from '../generated/acts';
import type { JobUnit } from '../format/length';
import { keep, load } from '../state/stored';
import { checksOf, kChecks, type Check, type Row, type Tool } from './checks';
import { fileOf, keptOf, type KeptFile } from './kept_file';

interface Given {
    file: File;
    digest: string;
    /** As it stays on this device; null: too large, it lasts as long as the page. */
    kept: KeptFile | null;
}
type Files = Partial<Record<Check, Given>>;

function loadFiles(): Files {
    const out: Files = {};
    for (const [check, kept] of Object.entries(load<Partial<Record<Check, KeptFile>>>('checks.files', {}))) {
        const file = fileOf(kept);
        if (file) out[check as Check] = { file, digest: kept.digest, kept };
    }
    return out;
}

export class Tools {
    rows = $state.raw<Partial<Record<Check, Row[]>>>(load('checks', {}));
    files = $state.raw<Files>(loadFiles());
    /** Of the lengths typed: that of the display when the first one was. */
    unit = $state<JobUnit | null>(load<JobUnit | null>('checks.unit', null));
    radius_m = $state(30);
    answers = $state.raw<Record<Tool, ToolsAnswer | null>>({ instrument: null, rod: null });
    refused = $state.raw<Record<Tool, string>>({ instrument: '', rod: '' });
    busy = $state(false);
    private round = 0;

    rowsOf(check: Check): Row[] {
        return this.rows[check] ?? [];
    }

    add(check: Check, row: Row, unit: JobUnit): void {
        this.unit ??= unit;
        this.change(check, [...this.rowsOf(check), row]);
        if (this.files[check]) this.changeFile(check, undefined);
    }

    remove(check: Check, at: number): void {
        this.change(check, this.rowsOf(check).filter((_, i) => i !== at));
    }

    clear(check: Check): void {
        this.changeFile(check, undefined);
        this.change(check, []);
    }

    private changeFile(check: Check, given: Given | undefined): void {
        this.files = { ...this.files, [check]: given };
        const kept = Object.entries(this.files).flatMap(([c, g]) => (g?.kept ? [[c, g.kept] as const] : []));
        keep('checks.files', kept.length > 0 ? Object.fromEntries(kept) : null);
    }

    private change(check: Check, rows: Row[]): void {
        this.rows = { ...this.rows, [check]: rows };
        if (kChecks.every((k) => this.rowsOf(k.check).length === 0)) this.unit = null;
        keep('checks', this.rows);
        keep('checks.unit', this.unit);
    }

    /** A file stands in place of typed rows. */
    async give(check: Check, tool: Tool, file: File): Promise<void> {
        try {
            const { digest } = await handFile(file.name, file);
            this.changeFile(check, { file, digest, kept: await keptOf(file, digest) });
            await this.look(tool);
        } catch (error) {
            this.refused = { ...this.refused, [tool]: sentence(error) };
        }
    }

    request(tool: Tool): ToolsRequest | null {
        const tables: ToolsTable[] = [];
        for (const { check } of checksOf(tool)) {
            const given = this.files[check];
            if (given) tables.push({ check, digest: given.digest });
            else if (this.rowsOf(check).length > 0) tables.push({ check, rows: this.rowsOf(check) });
        }
        return tables.length === 0 ? null : { tool, tables, unit: this.unit, radius_m: this.radius_m };
    }

    /** Asks for the answer of what is there now. */
    async look(tool: Tool): Promise<void> {
        const round = ++this.round;
        const request = this.request(tool);
        let answer: ToolsAnswer | null = null;
        let refused = '';
        this.busy = request !== null;
        try {
            if (request) answer = await this.asked(tool, request, () => ask('tools', this.request(tool) ?? request));
        } catch (error) {
            refused = sentence(error);
        }
        if (round !== this.round) return;
        this.busy = false;
        this.answers = { ...this.answers, [tool]: answer };
        this.refused = { ...this.refused, [tool]: refused };
    }

    /** Puts the numbers found into the job; how many. */
    async keep(tool: Tool): Promise<number> {
        const request = this.request(tool);
        if (!request) return 0;
        const answer = await this.asked(tool, request, () => ask('keep', this.request(tool) ?? request));
        return answer.kept;
    }

    /** A program that was started again has forgotten the files: they are sent once more. */
    private async asked<T>(tool: Tool, request: ToolsRequest, run: () => Promise<T>): Promise<T> {
        try {
            return await run();
        } catch (error) {
            const isForgotten = error instanceof ApiError && error.refusal?.kind === 'file-not-kept';
            if (!isForgotten || !request.tables.some((t) => t.digest)) throw error;
            for (const { check } of checksOf(tool)) {
                const given = this.files[check];
                if (!given) continue;
                const { digest } = await handFile(given.file.name, given.file);
                this.changeFile(check, { ...given, digest });
            }
            return run();
        }
    }
}

export const tools = new Tools();
