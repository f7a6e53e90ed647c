// How each view shows its answer. questions.ts has what is asked.

import { layView } from './lay/view';
import { planView } from './plan/view';
import { proveView } from './prove/view';
import type { View } from './questions';
import { stationView } from './station/view';
import { vetView } from './vet/view';
import type { ViewParts } from './view_parts';
import { watchView } from './watch/view';

export const kViewParts: Record<View, ViewParts> = {
    vet: vetView,
    plan: planView,
    station: stationView,
    lay: layView,
    watch: watchView,
    prove: proveView,
};
