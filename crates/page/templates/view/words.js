/* How the view says lengths: inches in the shop's fractions, millimetres beside. Lengths are mm. */

const INCH = 25.4;
const MINUS = "\u2212";

/** A length without its sign, in inches to the nearest 1/parts: 3/16, 1-1/4, 0. */
function fraction(mm, parts) {
  const steps = Math.round(Math.abs(mm) / INCH * parts);
  const whole = Math.floor(steps / parts);
  let above = steps % parts, below = parts;
  while (above > 0 && above % 2 === 0) { above /= 2; below /= 2; }
  if (above === 0) return String(whole);
  return (whole ? whole + "-" : "") + above + "/" + below;
}

/** As `fraction`, in 64ths where a 32nd would say it too roughly. */
function fine(mm) {
  const steps = Math.abs(mm) / INCH * 32;
  return fraction(mm, Math.abs(steps - Math.round(steps)) > 0.1 * steps ? 64 : 32);
}

function signOf(mm) { return mm < 0 ? MINUS : "+"; }

function signed(mm) {
  const inches = fraction(mm, 32);
  const size = Math.abs(mm).toFixed(1), sign = size === "0.0" ? "" : signOf(mm);
  return (inches === "0" ? "nil" : sign + inches + " in") + ` (${sign}${size} mm)`;
}

function plusMinus(mm) {
  const inches = fraction(mm, 64);
  return (inches === "0" ? "± under 1/64 in" : `± ${inches} in`) + ` (${mm.toFixed(1)} mm)`;
}

function place(mm) { return (mm < 0 && fraction(mm, 32) !== "0" ? MINUS : "") + fraction(mm, 32); }
