// How this device shows things. Never part of the job.

import { shownFor, type JobUnit, type LengthShow, type Shown } from '../format/length';
import { keep, load } from './stored';

export type Theme = 'auto' | 'light' | 'dark' | 'sun';

class Settings {
    theme = $state<Theme>(load<Theme>('theme', 'auto'));
    lengths = $state<LengthShow | null>(load<LengthShow | null>('lengths', null));
    initials = $state<string>('');

    setTheme(theme: Theme): void {
        this.theme = theme;
        keep('theme', theme);
        this.apply();
    }

    setLengths(lengths: LengthShow): void {
        this.lengths = lengths;
        keep('lengths', lengths);
    }

    apply(): void {
        document.documentElement.dataset['theme'] = this.theme;
    }

    shown(unit: JobUnit | null): Shown {
        return shownFor(unit, this.lengths);
    }
}

export const settings = new Settings();
