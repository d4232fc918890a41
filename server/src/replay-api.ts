/** The HTTP API of the server that a replay plays to. */

/** The recording or the server does not allow it; the message says what to do. */
export class ReplayError extends Error {
  override name = 'ReplayError';
}

export class ReplayApi {
  readonly #base: string;

  constructor(url: string) {
    this.#base = url.replace(/^ws/, 'http').replace(/\/$/, '');
  }

  async call<T>(method: string, path: string, body?: object): Promise<T> {
    const response = await fetch(this.#base + path, {
      method,
      ...(body ? { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) } : {}),
    }).catch((error: unknown) => {
      const cause = error instanceof Error && error.cause instanceof Error ? error.cause.message : String(error);
      throw new ReplayError(
        `No server at ${this.#base} (${cause}). Start one with npm start or npm run demo, or give --url.`,
      );
    });
    const text = await response.text();
    if (!response.ok) throw new ReplayError(`${method} ${path} was refused (${response.status}): ${messageIn(text)}`);
    return JSON.parse(text) as T;
  }
}

function messageIn(text: string): string {
  try {
    return (JSON.parse(text) as { error?: { message?: string } }).error?.message ?? text;
  } catch {
    return text;
  }
}
