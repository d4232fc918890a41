/** Something about a recording folder is not as it must be; the message says which file and what to do. */
export class RecordingError extends Error {
  override name = 'RecordingError';
}
