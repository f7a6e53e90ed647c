// One sentence at a time for those who listen instead of look.

class Live {
    polite = $state('');
    /** Shown for a while in the slot under the plan; never moves anything. */
    notice = $state('');
    private timer: ReturnType<typeof setTimeout> | null = null;

    say(sentence: string): void {
        // The same sentence twice is still news: an added blank makes readers speak again.
        this.polite = this.polite === sentence ? `${sentence} ` : sentence;
    }

    show(sentence: string): void {
        this.notice = sentence;
        this.say(sentence);
        if (this.timer !== null) clearTimeout(this.timer);
        this.timer = setTimeout(() => (this.notice = ''), 12_000);
    }
}

export const live = new Live();
