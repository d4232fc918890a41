// healthy.mjs PORT [CERTIFICATE]: exit code 0 while the server of this container answers. It asks on loopback, where the name of the
// certificate does not fit.
import http from 'node:http';
import https from 'node:https';

const [, , port, certificate] = process.argv;
const { get } = certificate ? https : http;
get({ host: '127.0.0.1', port, path: '/healthz/alive', rejectUnauthorized: false }, ({ statusCode }) =>
  process.exit(statusCode === 200 ? 0 : 1),
).on('error', () => process.exit(1));
