import { make } from './desk.js';

export async function show(host) {
  host.append(make('h1', {}, ''));
}
