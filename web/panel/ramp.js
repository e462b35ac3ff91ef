// Colours that carry numbers. The load ramp is a line of equal steps in OKLab (B. Ottosson, 2020), so that equal differences of load look equal, and
// lightness rises all the way, so that it reads without colour.

const ends = [
  { L: 0.27, a: -0.015, b: -0.055 }, // idle: near the booth's dark, bluish
  { L: 0.56, a: 0.045, b: 0.03 },
  { L: 0.87, a: 0.005, b: 0.135 }, // at the limit: pale straw
];

const far = (p, q) => Math.hypot(p.L - q.L, p.a - q.a, p.b - q.b);
const first = far(ends[0], ends[1]);
const whole = first + far(ends[1], ends[2]);

// loadLab gives the ramp's colour in OKLab for a share of the limit from 0 to 1.
export function loadLab(share) {
  const way = Math.min(1, Math.max(0, share)) * whole;
  const [from, to, t] = way < first ? [ends[0], ends[1], way / first] : [ends[1], ends[2], (way - first) / (whole - first)];
  const mix = (k) => from[k] + (to[k] - from[k]) * t;
  return { L: mix('L'), a: mix('a'), b: mix('b') };
}

export const loadColour = (share) => css(loadLab(share));

// circuitColour gives neighbours hues that lie far apart at one lightness, so that no circuit looks louder than another.
export function circuitColour(index) {
  const hue = index * 137.508 * (Math.PI / 180);
  return css({ L: index % 2 ? 0.5 : 0.6, a: 0.085 * Math.cos(hue), b: 0.085 * Math.sin(hue) });
}

function css({ L, a, b }) {
  const l = (L + 0.3963377774 * a + 0.2158037573 * b) ** 3;
  const m = (L - 0.1055613458 * a - 0.0638541728 * b) ** 3;
  const s = (L - 0.0894841775 * a - 1.2914855480 * b) ** 3;
  const linear = [
    4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
    -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
    -0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s,
  ];
  return `rgb(${linear.map(encode).join(' ')})`;
}

function encode(v) {
  const c = Math.min(1, Math.max(0, v));
  return Math.round(255 * (c <= 0.0031308 ? 12.92 * c : 1.055 * c ** (1 / 2.4) - 0.055));
}
