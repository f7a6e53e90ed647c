// How this device shows things. Never part of the job.

import { shownFor, type JobUnit, type LengthShow, type Shown } from '../format/length';
import { keep, load } from './stored';

export type Theme = 'auto' | 'light' | 'dark' | 'sun';

/** Whether the device asks for dark; null where nobody can be asked. */
const kDark = typeof matchMedia === 'function' ? matchMedia('(prefers-color-scheme: dark)') : null;

class Settings {
    theme = $state<Theme>(load<Theme>('theme', 'auto'));
    lengths = $state<LengthShow | null>(load<LengthShow | null>('lengths', null));
    initials = $state<string>('');
    /** What is shown: the device's own choice is already made in it. */
    colours = $state<Exclude<Theme, 'auto'>>('light');

    setTheme(theme: Theme): void {
        this.theme = theme;
        keep('theme', theme);
        this.apply();
    }

    setLengths(lengths: LengthShow): void {
        this.lengths = lengths;
        keep('lengths', lengths);
    }

    /** Once, at the start: the device may change its mind later. */
    begin(): void {
        kDark?.addEventListener('change', () => this.apply());
        this.apply();
    }

    private apply(): void {
        this.colours = this.theme === 'auto' ? (kDark?.matches ? 'dark' : 'light') : this.theme;
        document.documentElement.dataset['theme'] = this.colours;
    }

    shown(unit: JobUnit | null): Shown {
        return shownFor(unit, this.lengths);
    }
}

export const settings = new Settings();
