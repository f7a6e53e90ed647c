// What was typed or dropped for the field checks, and what the program says of it. Rows and files
// stay on this device until they are cleared.

import { ask, sentence } from '../api/client';
import type { ToolsAnswer, ToolsRequest, ToolsTable } from '../generated/acts';
import type { JobUnit } from '../format/length';
import { askWith, restored, send, type KeptFile, type SentFile } from '../state/sent_file';
import { keep, load } from '../state/stored';
import { checksOf, kChecks, type Check, type Row, type Tool } from './checks';

type Files = Partial<Record<Check, SentFile>>;

function loadFiles(): Files {
    const out: Files = {};
    for (const [check, kept] of Object.entries(load<Partial<Record<Check, KeptFile>>>('checks.files', {}))) {
        out[check as Check] = restored(kept) ?? undefined;
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

    private changeFile(check: Check, given: SentFile | undefined): void {
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
            this.changeFile(check, await send(file));
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
            if (request) answer = await askWith(this.sentFor(tool), () => ask('tools', request));
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
        const answer = await askWith(this.sentFor(tool), () => ask('keep', request));
        return answer.kept;
    }

    private sentFor(tool: Tool): SentFile[] {
        return checksOf(tool).flatMap(({ check }) => this.files[check] ?? []);
    }
}

export const tools = new Tools();
