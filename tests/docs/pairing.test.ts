/** The worked example of pairing in the specification: what it sends is taken, and what it shows is what comes back. */
import { describe, expect, test } from 'vitest';
import type { ApiError, PairingCode } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { knock } from '../support/knock.ts';
import { newPerson } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { read } from './markdown.ts';

interface Example {
  firstLine: string;
  headers: Map<string, string>;
  body: string;
}

const section = read('firmware-protocol/SPEC.md').split('### 2.4 Pairing')[1]!.split('\n## ')[0]!;
const [request, answer] = [...section.matchAll(/```\n([^]*?)\n```/g)].map(([, text]) => exampleOf(text!));

function exampleOf(text: string): Example {
  const [head = '', body = ''] = text.split('\n\n');
  const [firstLine = '', ...lines] = head.split('\n');
  const headers = new Map(lines.map((line) => [line.split(': ')[0]!.toLowerCase(), line.split(': ')[1]!]));
  return { firstLine, headers, body };
}

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });

/** With the headers of the example and no others but those that every client adds. */
function send(body: string): Promise<Response> {
  const [method = '', path = ''] = request!.firstLine.split(' ');
  return fetch(api.url + path, { method, headers: { 'content-type': request!.headers.get('content-type')! }, body });
}

describe('the example of pairing in SPEC.md', () => {
  test('has the length that it says', () => {
    expect(Number(request!.headers.get('content-length'))).toBe(Buffer.byteLength(request!.body));
  });

  test('is a request that the server understands, and refuses for its code alone', async () => {
    const response = await send(request!.body);
    const { error } = (await response.json()) as ApiError;
    expect(`${response.status} ${error.code}`).toBe('403 wrong-code');
    expect(section).toContain('403 wrong-code');
    expect((await send('{"deviceId":"pelvis 01","code":"K7M2-XQ9D"}')).status).toBe(400);
  });

  test('shows the answer to a good code, whose token lets the device in', async () => {
    const { deviceId } = JSON.parse(request!.body) as { deviceId: string };
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const { code } = await coach.call<PairingCode>('POST', `/api/sensors/${deviceId}/pairing-code`);
    const response = await send(JSON.stringify({ ...JSON.parse(request!.body), code }));
    expect(`HTTP/1.1 ${response.status} ${response.statusText}`).toBe(answer!.firstLine);
    for (const [name, value] of answer!.headers) expect([name, response.headers.get(name)]).toEqual([name, value]);
    const { token, ...rest } = (await response.json()) as { token: string };
    const shown = JSON.parse(answer!.body) as { token: string };
    expect([rest, Object.keys(shown), token.length]).toEqual([{}, ['token'], shown.token.length]);
    const device = knock(api.socketUrl, deviceId, token);
    expect(await device.answered()).toBe('welcome');
    device.leave();
  });
});
