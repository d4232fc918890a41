import { describe, expect, it } from 'vitest';
import { STANCE_METRIC_KEYS } from '../../shared/src/index.ts';
import { csvLine } from '../../server/src/exchange/csv.ts';
import { columnOf } from '../../server/src/exchange/stances-csv.ts';

describe('a line of CSV', () => {
  // The examples of RFC 4180, section 2, rules 5 to 7.
  it.each([
    [['aaa', 'bbb', 'ccc'], 'aaa,bbb,ccc\r\n'],
    [['aaa', 'b\r\nbb', 'ccc'], 'aaa,"b\r\nbb",ccc\r\n'],
    [['aaa', 'b"bb', 'ccc'], 'aaa,"b""bb",ccc\r\n'],
    [['a,b'], '"a,b"\r\n'],
  ])('is written as RFC 4180 has it: %j', (cells, line) => {
    expect(csvLine(cells)).toBe(line);
  });

  it('has an empty cell for what is not known, and never a 0', () => {
    expect(csvLine([null, NaN, 0, '', true])).toBe(',,0,,true\r\n');
  });

  it.each(['=1+1', '+1', '-1', '@a', '\ta', '\ra'])('has no formula in %j', (text) => {
    expect(csvLine([text]).replace(/^"/, '').startsWith(`'${text[0]}`)).toBe(true);
  });

  it('leaves negative numbers as numbers', () => {
    expect(csvLine([-1.5, 1e-7])).toBe('-1.5,1e-7\r\n');
  });
});

describe('the columns of metrics', () => {
  it('end with their unit, are all different, and say which are side-relative', () => {
    const columns = STANCE_METRIC_KEYS.map(columnOf);
    expect(new Set(columns).size).toBe(columns.length);
    for (const column of columns) expect(column).toMatch(/_(s|deg|m|g|db|n|n_per_m|deg_per_s)$|^duty_factor$/);
    expect(columnOf('obliquityAtContactDeg')).toBe('obliquity_at_contact_side_relative_deg');
    expect(columnOf('peakForceN')).toBe('peak_force_n');
  });
});
