// Angles as crews read them. Rounding happens once, on the last part shown, and carries: what
// would be 60" becomes the next minute, and 360° becomes 0°.

/** 123°45'06" from degrees; wrapped into [0, 360). `decimals` of the seconds. */
export function showDms(degrees: number, decimals = 0): string {
    const step = 10 ** decimals;
    const perTurn = 1_296_000 * step;
    let ticks = Math.round(degrees * 3600 * step) % perTurn;
    if (ticks < 0) ticks += perTurn;
    const seconds = (ticks % (60 * step)) / step;
    const minutes = Math.floor(ticks / (60 * step)) % 60;
    const whole = Math.floor(ticks / (3600 * step));
    const secondsText = seconds.toFixed(decimals).padStart(decimals > 0 ? 3 + decimals : 2, '0');
    return `${whole}°${String(minutes).padStart(2, '0')}'${secondsText}"`;
}

/** +6" or −0.5": a residual in seconds of arc, one decimal below ten. */
export function showArcsec(seconds: number): string {
    const rounded = Math.abs(seconds) < 10 ? seconds.toFixed(1) : seconds.toFixed(0);
    return signed(rounded) + '"';
}

/** Puts a plus before what is above zero, a true minus before what is below, nothing before zero. */
export function signed(text: string): string {
    const value = Number(text);
    if (value === 0) return text.replace('-', '');
    return value > 0 ? `+${text}` : text.replace('-', '−');
}
