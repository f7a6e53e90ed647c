// Colours of the plan, taken from the page's style so that light, dark and sun need no code.

export interface Palette {
    paper: string;
    text: string;
    muted: string;
    line: string;
    proven: string;
    doubt: string;
    fails: string;
    misfit: string;
    ellipse: string;
    chosen: string;
    /** Multiplies widths of lines: thicker in the sun. */
    weight: number;
    font: string;
}

export function readPalette(of: Element): Palette {
    const style = getComputedStyle(of);
    const get = (name: string) => style.getPropertyValue(name).trim() || '#808080';
    return {
        paper: get('--plan-paper'),
        text: get('--text'),
        muted: get('--muted'),
        line: get('--plan-line'),
        proven: get('--proven'),
        doubt: get('--doubt'),
        fails: get('--fails'),
        misfit: get('--misfit'),
        ellipse: get('--ellipse'),
        chosen: get('--chosen'),
        weight: Number(style.getPropertyValue('--plan-weight')) || 1,
        font: style.fontFamily || 'sans-serif',
    };
}
