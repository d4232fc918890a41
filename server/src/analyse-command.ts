/** `npm run --silent analyse -- RECORDING [--out FILE]`: analyses a recording folder and prints a summary. */
import { writeFile } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { analyseRecording } from './analysis.ts';
import { readRecording } from './exchange/motion-bids-reader.ts';
import { RecordingError } from './exchange/recording-error.ts';
import { summaryText } from './exchange/summary-text.ts';

const USAGE =
  'Usage: npm run --silent analyse -- RECORDING [--out FILE]   (RECORDING: a folder in the Motion-BIDS layout)';

async function main(): Promise<number> {
  const { values, positionals } = parseArgs({ options: { out: { type: 'string' } }, allowPositionals: true });
  const [folder] = positionals;
  if (folder === undefined || positionals.length > 1) {
    console.error(USAGE);
    return 2;
  }
  const result = analyseRecording(await readRecording(folder));
  // The file first: a reader that closes the pipe early must not cost the results.
  if (values.out !== undefined) {
    await writeFile(values.out, JSON.stringify(result)).catch((cause: unknown) => {
      const reason = cause instanceof Error ? cause.message : String(cause);
      throw new RecordingError(`The results could not be written to ${values.out}: ${reason}`);
    });
  }
  console.log(summaryText(result));
  if (values.out !== undefined) console.log(`\nResults written to ${values.out}`);
  return 0;
}

try {
  process.exitCode = await main();
} catch (error) {
  if (!(error instanceof RecordingError) && !(error instanceof TypeError && 'code' in error)) throw error;
  console.error(error.message);
  if (!(error instanceof RecordingError)) console.error(USAGE);
  process.exitCode = 2;
}
