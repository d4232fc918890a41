import { describe, expect, it } from 'vitest';
import { exportedId, uuidV5 } from '../../server/src/exchange/fhir-uuid.ts';

/** RFC 9562, section 6.6, table 3. */
const NAMESPACE_DNS = '6ba7b810-9dad-11d1-80b4-00c04fd430c8';

describe('a UUID of version 5', () => {
  it('is that of RFC 9562, appendix A.4', () => {
    expect(uuidV5(NAMESPACE_DNS, 'www.example.com')).toBe('2ed6657d-e927-568b-95e1-2665a8aea6a2');
  });

  // Made with the module `uuid` of Python 3: uuid.uuid5(uuid.NAMESPACE_DNS, name).
  it.each([
    ['', '4ebd0208-8328-5d69-8c44-ec50939c0967'],
    ['Zürich', '88bc97ad-c8f5-5a9c-badc-e687205311e8'],
  ])('of the name %j is that of another program', (name, id) => {
    expect(uuidV5(NAMESPACE_DNS.toUpperCase(), name)).toBe(id);
  });

  it.each(['', 'urn:uuid:6ba7b810-9dad-11d1-80b4-00c04fd430c8', '6ba7b8109dad11d180b400c04fd430c8'])(
    'needs a namespace that is a UUID, which %j is not',
    (namespace) => {
      expect(() => uuidV5(namespace, 'name')).toThrow(/has to be a UUID/);
    },
  );

  it('differs by trial and by part, and is the same the next time', () => {
    const ids = ['a', 'b'].flatMap((trial) => ['', 'left', 'right'].map((part) => exportedId(trial, part)));
    expect(new Set(ids).size).toBe(ids.length);
    expect(exportedId('a', 'left')).toBe(ids[1]);
  });
});
