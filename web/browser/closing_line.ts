// Ends the run with "N passed, N failed", which ./check adds to its counts. A file that cannot even
// be run counts as one failure, and so does a run without tests.

import type { Reporter, TestModule } from 'vitest/node';

export default class ClosingLine implements Reporter {
    onTestRunEnd(modules: readonly TestModule[]): void {
        let passed = 0;
        let failed = 0;
        for (const module of modules) {
            let failedHere = 0;
            for (const test of module.children.allTests()) {
                const { state } = test.result();
                if (state === 'passed') passed += 1;
                if (state === 'failed') failedHere += 1;
            }
            if (module.state() === 'failed' && failedHere === 0) failedHere = 1;
            failed += failedHere;
        }
        if (passed + failed === 0) failed = 1;
        console.log(`${passed} passed, ${failed} failed`);
    }
}
