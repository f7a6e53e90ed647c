// Keeps the stream of events open: counts a silent stream as lost, tries again with growing pauses,
// and says when it is back. No document object in here; the clock and the stream are handed in.

export interface EventStream {
    addEventListener(type: string, listener: (event: { data?: unknown }) => void): void;
    close(): void;
}

export interface ConnectionParts {
    open: () => EventStream;
    setTimer: (run: () => void, ms: number) => unknown;
    clearTimer: (timer: unknown) => void;
    onEvent: (type: string, data: unknown) => void;
    onState: (live: boolean) => void;
}

const kEvents = ['job', 'inbox', 'work'];
const kFirstPause_ms = 500;
const kLongestPause_ms = 8000;

/** How long to wait before the n-th try in a row: 0.5, 1, 2, 4, 8, 8, … s. */
export function pauseBefore(attempt: number): number {
    return Math.min(kLongestPause_ms, kFirstPause_ms * 2 ** Math.max(0, attempt));
}

export class Connection {
    private readonly parts: ConnectionParts;
    private stream: EventStream | null = null;
    private timer: unknown = null;
    private attempt = 0;
    private closed = false;

    constructor(parts: ConnectionParts) {
        this.parts = parts;
    }

    start(): void {
        this.closed = false;
        this.connect();
    }

    /** Tries at once, without waiting for the pause to pass. */
    retryNow(): void {
        if (this.closed) return;
        this.attempt = 0;
        this.connect();
    }

    stop(): void {
        this.closed = true;
        this.drop();
    }

    private drop(): void {
        if (this.timer !== null) this.parts.clearTimer(this.timer);
        this.timer = null;
        this.stream?.close();
        this.stream = null;
    }

    private connect(): void {
        this.drop();
        const stream = this.parts.open();
        this.stream = stream;
        const mine = () => this.stream === stream;
        stream.addEventListener('open', () => {
            if (!mine()) return;
            this.attempt = 0;
            this.parts.onState(true);
        });
        stream.addEventListener('error', () => {
            if (!mine()) return;
            this.parts.onState(false);
            this.drop();
            if (this.closed) return;
            this.timer = this.parts.setTimer(() => this.connect(), pauseBefore(this.attempt));
            this.attempt += 1;
        });
        for (const type of kEvents) {
            stream.addEventListener(type, (event) => {
                if (!mine()) return;
                const data = parse(event.data);
                if (data !== undefined) this.parts.onEvent(type, data);
            });
        }
    }
}

function parse(text: unknown): unknown {
    if (typeof text !== 'string') return undefined;
    try {
        return JSON.parse(text) as unknown;
    } catch {
        return undefined;
    }
}
