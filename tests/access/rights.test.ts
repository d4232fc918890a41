/** Who may do what, as a table: role, relation and consent against right. Data protection's "need to know" is common practice, no source. */
import { describe, expect, test } from 'vitest';
import { ATHLETE_RIGHTS, type AthleteRight, type ConsentPurpose, type Role } from '../../shared/src/index.ts';
import { rightsOn } from '../../server/src/access/rights.ts';

const NONE: ConsentPurpose[] = [];
const RECORDING: ConsentPurpose[] = ['recording'];
const BOTH: ConsentPurpose[] = ['recording', 'health to coach'];

type Row = [string, Role[], { isOwn?: boolean; caresFor?: boolean; consents?: ConsentPurpose[] }, AthleteRight[]];

const TABLE: Row[] = [
  ['a coach of somebody else', ['coach'], { consents: BOTH }, []],
  ['a physio of somebody else', ['physio'], { consents: BOTH }, []],
  ['another athlete', ['athlete'], { consents: BOTH }, []],
  ['a coach before consent', ['coach'], { caresFor: true, consents: NONE }, ['know', 'consent']],
  ['a physio before consent', ['physio'], { caresFor: true, consents: NONE }, ['know', 'consent']],
  [
    'a coach with consent to health alone',
    ['coach'],
    { caresFor: true, consents: ['health to coach'] },
    ['know', 'consent'],
  ],
  ['a coach', ['coach'], { caresFor: true, consents: RECORDING }, ['know', 'see', 'measure', 'consent']],
  [
    'a coach who may know of health',
    ['coach'],
    { caresFor: true, consents: BOTH },
    ['know', 'see', 'measure', 'see-health', 'consent'],
  ],
  [
    'a physio',
    ['physio'],
    { caresFor: true, consents: RECORDING },
    ['know', 'see', 'measure', 'see-health', 'write-health', 'consent'],
  ],
  ['the athlete', ['athlete'], { isOwn: true, consents: NONE }, ['know', 'see', 'see-health', 'consent', 'export-all']],
  ['an athlete who is put down as a carer', ['athlete'], { caresFor: true, consents: BOTH }, []],
  ['a keeper', ['keeper'], { consents: BOTH }, ['know', 'consent', 'assign', 'export-all', 'erase']],
  [
    'a keeper who is put down as a carer',
    ['keeper'],
    { caresFor: true, consents: BOTH },
    ['know', 'consent', 'assign', 'export-all', 'erase'],
  ],
  [
    'a keeper who coaches',
    ['keeper', 'coach'],
    { caresFor: true, consents: RECORDING },
    ['know', 'see', 'measure', 'consent', 'assign', 'export-all', 'erase'],
  ],
];

describe('the rights on an athlete', () => {
  test.each(TABLE)('of %s', (_who, roles, { isOwn = false, caresFor = false, consents = NONE }, expected) => {
    const rights = rightsOn(roles, { isOwn, caresFor, consents: new Set(consents) });
    expect(ATHLETE_RIGHTS.filter((right) => rights.has(right))).toEqual(expected);
  });

  test('of no role include writing into a return episode without the relation of a physio', () => {
    const roles: Role[] = ['keeper', 'coach', 'athlete'];
    const rights = rightsOn(roles, { isOwn: true, caresFor: true, consents: new Set(BOTH) });
    expect(rights.has('write-health')).toBe(false);
  });
});
