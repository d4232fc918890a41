/** The settings of the server: what they may be, and that nothing goes over a network in the clear unless somebody says so. */
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { readCertificate } from '../../server/src/certificate.ts';
import { readConfig } from '../../server/src/config.ts';
import { SetupError } from '../../server/src/errors.ts';

const at = (name: string): string => fileURLToPath(new URL(`../support/certificate/${name}`, import.meta.url));
const CERT = at('test-only-certificate.pem');
const KEY = at('test-only-key.pem');
const config = (env: Record<string, string>) => readConfig('./data', env);

describe('the settings', () => {
  test('left out are loopback, port 8080, no encryption needed and none in the clear', () => {
    expect(config({})).toMatchObject({
      ...{ host: '127.0.0.1', port: 8080, databaseUrl: null, tls: null, publicUrl: null, plainHttp: 'refused' },
    });
    expect(config({ HOST: '', PORT: '', TLS_CERT: '', PUBLIC_URL: '', PLAIN_HTTP: '' })).toEqual(config({}));
  });

  test.each([['0.0.0.0'], ['192.168.1.20'], ['::'], ['lanes.example']])(
    'HOST %s without encryption is refused',
    (HOST) => {
      expect(() => config({ HOST })).toThrow(/others reach, and nothing is encrypted. Give a certificate/);
      expect(config({ HOST, PLAIN_HTTP: 'accepted' }).plainHttp).toBe('accepted');
      expect(config({ HOST, TLS_CERT: CERT, TLS_KEY: KEY }).tls).toEqual({ certFile: CERT, keyFile: KEY });
      // A proxy on this machine reaches loopback: an address that others reach is none of its business.
      expect(() => config({ HOST, PUBLIC_URL: 'https://lanes.example' })).toThrow(SetupError);
    },
  );

  test.each([['127.0.0.1'], ['::1'], ['localhost']])('HOST %s is reached from this machine alone', (HOST) => {
    expect(config({ HOST }).host).toBe(HOST);
  });

  test.each([
    [{ PORT: '70000' }, 'PORT is "70000"'],
    [{ PORT: '80a' }, 'PORT is "80a"'],
    [{ PLAIN_HTTP: 'yes' }, 'PLAIN_HTTP is "yes": the only value is accepted'],
    [{ TLS_CERT: CERT }, 'TLS_CERT and TLS_KEY belong together'],
    [{ TLS_KEY: KEY }, 'TLS_CERT and TLS_KEY belong together'],
    [{ PUBLIC_URL: 'lanes.example' }, 'PUBLIC_URL is "lanes.example"'],
    [{ PUBLIC_URL: 'https://lanes.example/track' }, 'without a path'],
    [{ PUBLIC_URL: 'ftp://lanes.example' }, 'PUBLIC_URL'],
    [{ DATABASE_URL: 'mysql://u:secret@h/d' }, 'DATABASE_URL is not of the form'],
  ])('%j is refused with what to do', (env, told) => {
    expect(() => config(env)).toThrow(SetupError);
    expect(() => config(env)).toThrow(told);
  });

  test('never repeat the password of a database', () => {
    expect(() => config({ DATABASE_URL: 'mysql://u:secret@h/d' })).not.toThrow(/secret/);
  });
});

describe('the certificate', () => {
  test('is read with its key', () => {
    expect(readCertificate({ tls: { certFile: CERT, keyFile: KEY } })?.cert.toString()).toContain('BEGIN CERTIFICATE');
    expect(readCertificate({ tls: null })).toBeNull();
  });

  test.each([
    ['that is not there', '/nowhere.pem', KEY],
    ['whose key is not there', CERT, '/nowhere.pem'],
    ['in the place of the key', CERT, CERT],
    ['that is none', fileURLToPath(import.meta.url), KEY],
  ])('%s ends the start with what to do', (_what, certFile, keyFile) => {
    expect(() => readCertificate({ tls: { certFile, keyFile } })).toThrow(
      /The certificate cannot be used .*both in PEM/,
    );
  });
});
