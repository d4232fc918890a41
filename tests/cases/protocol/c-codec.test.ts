/** The C99 encoder and decoder against the vectors, which were made from SPEC.md in another language. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { LAYOUTS, PROTOCOL_ERRORS, type MessageType } from '@ambipede/firmware-protocol';
import { ask, compileDriver, findCompiler, hasSanitizers } from './c-codec.ts';
import { outsideOf } from './field-edges.ts';
import { hexOf, malformedVectors, validVectors, type ValidVector } from './vectors.ts';

const compiler = findCompiler();
const sanitizers = compiler !== null && hasSanitizers(compiler);
const HEADER_DIGITS = 8;
const COMPILE_MS_MAX = 60_000;

const isOfServer = (type: MessageType): boolean => LAYOUTS[type].from === 'server';
const ofDevice = validVectors.filter(({ decoded }) => !isOfServer(decoded.type));
const ofServer = validVectors.filter(({ decoded }) => isOfServer(decoded.type));

const FIELDS: Partial<Record<MessageType, string[]>> = {
  hello: ['bootId', 'rateMilliHz', 'accelScale', 'gyroScale', 'magnScale', 'channels'],
  samples: ['bootId', 'firstSequence', 'oldestSequence', 'firstTickUs', 'intervalUs', 'count', 'channels'],
  status: [
    'bootId',
    'tickUs',
    'batteryPercent',
    'temperatureCentiC',
    'bufferedSamples',
    'bufferCapacity',
    'droppedSamples',
  ],
  timeResponse: ['exchangeId', 'serverUtcUs', 'receiveTickUs', 'transmitTickUs'],
  goodbye: ['bootId', 'reason'],
};

function encodeCommand(decoded: ValidVector['decoded']): string {
  const fixed = (FIELDS[decoded.type] ?? []).map((name) => String(decoded[name]));
  if (decoded.type === 'hello') fixed.push(digits(String(decoded['deviceId'])), decoded.token || '-');
  if (decoded.type === 'samples') fixed.push(...(decoded.counts ?? []).flat().map(String));
  return [decoded.type, ...fixed].join(' ');
}

const digits = (text: string): string => hexOf(new TextEncoder().encode(text)) || '-';

/** What the driver prints of a frame of the server. */
function decodedLine(decoded: ValidVector['decoded']): string {
  const of = (name: string): string => String(decoded[name] ?? 0);
  const text = decoded.type === 'error' ? digits(String(decoded['text'])) : '-';
  return [
    LAYOUTS[decoded.type].code,
    of('bootId'),
    of('nextSequence'),
    of('exchangeId'),
    of('serverUtcUs'),
    of('code'),
    text,
  ].join(' ');
}

/** A frame that only devices send is refused for that, unless its header is wrong already. */
function expectedOfDecoder({ hex, error }: { hex: string; error: keyof typeof PROTOCOL_ERRORS }): number {
  const ofHeader = ['too-long', 'bad-magic', 'unsupported-version', 'unknown-type'].includes(error);
  const type = Object.values(LAYOUTS).find(({ code }) => code === Number.parseInt(hex.slice(6, 8), 16));
  const isOfDevice = hex.length >= HEADER_DIGITS && type?.from === 'device';
  return PROTOCOL_ERRORS[!ofHeader && isOfDevice ? 'wrong-direction' : error].code;
}

describe.each([
  { name: compiler ? 'with every warning an error' : 'not run: no C compiler found', sanitized: false },
  {
    name: sanitizers ? 'with address and undefined-behaviour sanitizers' : 'not run: no sanitizers found',
    sanitized: true,
  },
])('the C99 codec ($name)', ({ sanitized }) => {
  const run = sanitized ? sanitizers : compiler !== null;
  let folder: string;
  let program: string;
  beforeAll(() => {
    if (!run || !compiler) return;
    folder = mkdtempSync(join(tmpdir(), 'c-codec-'));
    program = compileDriver(compiler, folder, sanitized);
  }, COMPILE_MS_MAX);
  afterAll(() => {
    if (folder) rmSync(folder, { recursive: true });
  });

  it.skipIf(!run)('encodes every frame of a device byte for byte, and in no less room than it needs', () => {
    expect(ofDevice.length).toBeGreaterThan(20);
    const answers = ask(
      program,
      ofDevice.map(({ decoded }) => encodeCommand(decoded)),
    );
    expect(ofDevice.map(({ name }, i) => [name, answers[i]])).toEqual(ofDevice.map(({ name, hex }) => [name, hex]));
  });

  it.skipIf(!run)('decodes every frame of the server to its fields', () => {
    expect(ofServer.length).toBeGreaterThan(10);
    const answers = ask(
      program,
      ofServer.map(({ hex }) => `decode ${hex}`),
    );
    expect(ofServer.map(({ name }, i) => [name, answers[i]])).toEqual(
      ofServer.map(({ name, decoded }) => [name, decodedLine(decoded)]),
    );
  });

  it.skipIf(!run)('refuses every malformed frame for the reason of the catalogue', () => {
    const answers = ask(
      program,
      malformedVectors.map(({ hex }) => `decode ${hex || '-'}`),
    );
    expect(malformedVectors.map(({ name }, i) => [name, answers[i]])).toEqual(
      malformedVectors.map((vector) => [vector.name, `error ${expectedOfDecoder(vector)}`]),
    );
  });

  it.skipIf(!run)('takes no frame that only devices send', () => {
    const answers = ask(
      program,
      ofDevice.map(({ hex }) => `decode ${hex}`),
    );
    expect(new Set(answers)).toEqual(new Set([`error ${PROTOCOL_ERRORS['wrong-direction'].code}`]));
  });

  it.skipIf(!run)('refuses every beginning of every frame and reads nothing beyond it', () => {
    const vectors = [...validVectors, ...malformedVectors.filter(({ hex }) => hex !== '')];
    const whole = ask(
      program,
      validVectors.map(({ hex }) => `cut ${hex}`),
    );
    expect(whole).toEqual(validVectors.map(({ hex }) => String(hex.length / 2)));
    expect(
      ask(
        program,
        vectors.map(({ hex }) => `cut ${hex}`),
      ),
    ).toHaveLength(vectors.length);
  });

  it.skipIf(!run)('answers any bytes, takes some of them and refuses others', () => {
    const rounds = 20_000;
    const [refused] = ask(program, [`fuzz 17 ${rounds}`]).map(Number);
    expect(refused).toBeGreaterThan(rounds / 2);
    expect(refused).toBeLessThan(rounds);
  });

  it.skipIf(!run)('encodes no field one step outside its range', () => {
    const cases = ofDevice
      .filter(({ name }) =>
        ['hello with a magnetometer', 'one sample', 'status', 'time response', 'goodbye'].includes(name),
      )
      .flatMap(({ decoded }) =>
        outsideOf(decoded.type)
          .filter(({ field }) => FIELDS[decoded.type]?.includes(field))
          .map(({ field, value }) => ({ ...decoded, [field]: value })),
      );
    expect(cases.length).toBeGreaterThan(15);
    const answers = ask(program, cases.map(encodeCommand));
    expect(cases.map((decoded, i) => [decoded, answers[i]])).toEqual(cases.map((decoded) => [decoded, 'refused']));
  });

  it.skipIf(!run)('encodes nothing that breaks a rule between fields', () => {
    const find = (name: string): ValidVector['decoded'] => ofDevice.find((each) => each.name === name)!.decoded;
    const hello = find('hello with a magnetometer');
    const sample = find('one sample');
    const response = find('time response');
    const cases = [
      { ...hello, magnScale: 0 },
      { ...hello, channels: 3 },
      { ...hello, deviceId: '' },
      { ...hello, deviceId: 'a'.repeat(65) },
      { ...hello, token: '00'.repeat(65) },
      ...[' ', '/', ':', '@', '[', '`', '{', ',', 'é', '\n', '\0'].map((c) => ({ ...hello, deviceId: `a${c}` })),
      { ...sample, oldestSequence: 41 },
      { ...sample, firstSequence: 2 ** 32 - 1 },
      { ...response, receiveTickUs: 2, transmitTickUs: 1 },
    ];
    expect(ask(program, cases.map(encodeCommand))).toEqual(cases.map(() => 'refused'));
  });
});
