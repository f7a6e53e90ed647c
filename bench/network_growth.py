#!/usr/bin/env python3
"""Cost over size as an SVG, from the lines of `network_speed growth`.

    network_speed growth > growth.csv
    bench/network_growth.py growth.csv > docs/methods/adjust-sparse-growth.svg
"""
import csv
import math
import sys

WIDTH, HEIGHT, LEFT, BOTTOM, TOP, RIGHT = 640, 420, 70, 50, 20, 20


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    size = [float(row["sights"]) for row in rows]
    total = [float(row["total_s"]) for row in rows]
    x = [math.log10(n) for n in size]
    y = [math.log10(t) for t in total]
    mean_x, mean_y = sum(x) / len(x), sum(y) / len(y)
    slope = sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y)) / sum(
        (a - mean_x) ** 2 for a in x)
    low, high = math.floor(min(y)), math.ceil(max(y))

    def px(v):
        return LEFT + (v - 3.0) / 3.0 * (WIDTH - LEFT - RIGHT)

    def py(v):
        return HEIGHT - BOTTOM - (v - low) / (high - low) * (HEIGHT - BOTTOM - TOP)

    out = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
           'font-family="sans-serif" font-size="13">',
           f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>']
    for e in range(3, 7):
        out.append(f'<path d="M{px(e):.1f} {TOP}V{HEIGHT - BOTTOM}" stroke="#ddd"/>'
                   f'<text x="{px(e):.1f}" y="{HEIGHT - BOTTOM + 20}" text-anchor="middle">'
                   f'10<tspan dy="-5" font-size="10">{e}</tspan></text>')
    for e in range(low, high + 1):
        label = f"{10.0 ** e:g} s"
        out.append(f'<path d="M{LEFT} {py(e):.1f}H{WIDTH - RIGHT}" stroke="#ddd"/>'
                   f'<text x="{LEFT - 8}" y="{py(e) + 4:.1f}" text-anchor="end">{label}</text>')

    def line(power, style, label):
        start = mean_y + power * (3.0 - mean_x)
        end = mean_y + power * (6.0 - mean_x)
        out.append(f'<path d="M{px(3.0):.1f} {py(start):.1f}L{px(6.0):.1f} {py(end):.1f}" {style}/>')
        out.append(label)

    line(1.3, 'stroke="#999" stroke-dasharray="5 4" fill="none"',
         f'<text x="{px(3.1):.1f}" y="{TOP + 18}" fill="#666">dashed: n^1.3, '
         f'through the middle of the points</text>')
    line(slope, 'stroke="#1a5fb4" stroke-width="2" fill="none"',
         f'<text x="{px(3.1):.1f}" y="{TOP + 36}" fill="#1a5fb4">line: n^{slope:.2f}, '
         'least squares</text>')
    for a, b in zip(x, y):
        out.append(f'<circle cx="{px(a):.1f}" cy="{py(b):.1f}" r="4" fill="#1a5fb4"/>')
    out.append(f'<text x="{(LEFT + WIDTH - RIGHT) / 2}" y="{HEIGHT - 10}" text-anchor="middle">'
               'sights (three observations each)</text></svg>')
    print("\n".join(out))
    print(f"least-squares exponent {slope:.3f}; end to end "
          f"{(y[-1] - y[0]) / (x[-1] - x[0]):.3f}", file=sys.stderr)


main()
