/** A browser in rough words, for whoever looks through their own sign-ins. What it says of itself is kept nowhere. */

/** The first that fits: others name themselves besides. */
const BROWSERS: readonly (readonly [RegExp, string])[] = [
  [/\bEdg(e|A|iOS)?\//, 'Edge'],
  [/\b(Firefox|FxiOS)\//, 'Firefox'],
  [/\b(Chrome|CriOS|HeadlessChrome)\//, 'Chrome'],
  [/\bSafari\//, 'Safari'],
];
const SYSTEMS: readonly (readonly [RegExp, string])[] = [
  [/\biPad\b/, 'iPad'],
  [/\biPhone\b/, 'iPhone'],
  [/\bAndroid\b/, 'Android'],
  [/\bWindows\b/, 'Windows'],
  [/\bCrOS\b/, 'ChromeOS'],
  [/\bMac OS X\b/, 'macOS'],
  [/\bLinux\b/, 'Linux'],
];

/** Empty where neither is known. @param userAgent the header of that name */
export function browserInWords(userAgent: string | undefined): string {
  const first = (list: typeof BROWSERS): string | undefined =>
    list.find(([pattern]) => pattern.test(userAgent ?? ''))?.[1];
  return [first(BROWSERS), first(SYSTEMS)].filter((each) => each !== undefined).join(', ');
}
