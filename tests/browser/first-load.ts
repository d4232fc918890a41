/** What a browser has to fetch of the built dashboard before it can show anything. */
import { readFileSync } from 'node:fs';
import path from 'node:path';

/** The page and all that it names or imports before it can draw; paths within `folder`. */
export function firstLoad(folder: string): string[] {
  const read = (file: string): string => readFileSync(path.join(folder, file), 'utf8');
  const needed = ['index.html'];
  for (const [, file = ''] of read('index.html').matchAll(/(?:src|href)="\/(assets\/[^"]+)"/g)) needed.push(file);
  for (const file of needed) {
    if (!file.endsWith('.js')) continue;
    for (const [, name = ''] of read(file).matchAll(/(?:from|import)\s*["'`]\.\/([\w.-]+\.js)["'`]/g))
      if (!needed.includes(`assets/${name}`)) needed.push(`assets/${name}`);
  }
  return needed;
}
