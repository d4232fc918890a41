// Exit code 0 while the server of this container answers. It asks on loopback, where the certificate's name does not fit.
import http from 'node:http';
import https from 'node:https';

const { PORT = '8080', TLS_CERT } = process.env;
const { get } = TLS_CERT ? https : http;
get({ host: '127.0.0.1', port: PORT, path: '/healthz/alive', rejectUnauthorized: false }, ({ statusCode }) =>
  process.exit(statusCode === 200 ? 0 : 1),
).on('error', () => process.exit(1));
