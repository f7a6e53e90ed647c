/** 97.1 %, rounded down, so that 94.99 % never reads as the 95 % that is asked for. */
export function showPercent(probability: number): string {
    const p = Math.min(1, Math.max(0, probability)) * 100;
    if (p < 0.1) return 'less than 0.1 %';
    if (p > 99.9) return 'more than 99.9 %';
    const tenths = Math.floor(p * 10 + 1e-9) / 10;
    return `${tenths === Math.floor(tenths) ? tenths.toFixed(0) : tenths.toFixed(1)} %`;
}

/** The same for a narrow column: >99.9 %. */
export function showPercentShort(probability: number): string {
    return showPercent(probability).replace('more than ', '>').replace('less than ', '<');
}
