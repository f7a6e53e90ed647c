// The sentences of the program may end in a word for those at the command line. On the page the
// same is done with a button, so the word is left out and the button offered.

export interface AsideHint {
    station: string;
    target: string;
    which: number;
}

const kCommand = /\s*\((?:--|layproof )[^()]*\)/g;
const kAside = /--set-aside "([^":]+):([^"=#]+)(?:#(\d+))?=/;

/** The sentence without what is meant for the command line. */
export function plain(sentence: string): string {
    return sentence.replace(kCommand, '');
}

/** What the sentence advises to set aside, if anything. */
export function asideHint(sentence: string): AsideHint | null {
    const found = kAside.exec(sentence);
    if (!found) return null;
    return { station: found[1] ?? '', target: found[2] ?? '', which: Number(found[3] ?? 0) };
}
