/** Names the algorithm and its parameters; every stored result carries it. Raise it when a result can change. */
export const ALGORITHM_VERSION = 'motion-4';
