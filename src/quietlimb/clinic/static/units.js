// Pressures as they are typed and as they are kept: in mmHg, whatever unit the person types. What is kept has three decimals,
// so that one decimal in kPa comes back as it was typed, and no whole mmHg is made of it by rounding.
const KPA_PER_MMHG = 0.133322387415;

export const toMmhg = (typed, unit) => (unit === "kPa" && typeof typed === "number" ? Math.round(1000 * typed / KPA_PER_MMHG) / 1000 : typed);
export const fromMmhg = (kept, unit) => (unit === "kPa" && typeof kept === "number" ? (kept * KPA_PER_MMHG).toFixed(1) : kept);
