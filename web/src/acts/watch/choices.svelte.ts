// What the tripod stands on.

import type { WatchRequest } from '../../generated/acts';
import { keep, load } from '../../state/stored';

export type Ground = NonNullable<WatchRequest['ground']>;

class WatchChoices {
    ground = $state<Ground>(load<Ground>('ground', 'slab'));

    choose(ground: Ground): void {
        this.ground = ground;
        keep('ground', ground);
    }
}

export const watchChoices = new WatchChoices();
