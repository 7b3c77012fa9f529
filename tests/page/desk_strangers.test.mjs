// The whole desk against requests that are not well meant, and against being killed; no browser is needed.
import assert from 'node:assert/strict';
import { connect } from 'node:net';
import { setMaxListeners } from 'node:events';
import { copyFileSync, mkdtempSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { askDesk, startDesk } from './desk.mjs';
import { freshFolder, today, writeDemo } from './program.mjs';

setMaxListeners(50, process);  // one for each desk
const demo = freshFolder(), folder = freshFolder();
let desk;
const files = ['nameplate.zip', 'hull.zip', 'harbour-grey.json'];
const sleep = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

async function checked(to, name) {
  assert.equal((await askDesk(to, `/api/jobs/${name}/check`, { post: { record: 'harbour-grey.json' } })).status, 200);
  for (;;) {
    const page = await askDesk(to, `/api/jobs/${name}/page`);
    if (page.ok) return;
    await sleep(50);
  }
}

before(async () => {
  writeDemo(demo);
  for (const file of files) copyFileSync(join(demo, file), join(folder, file));
  desk = await startDesk(folder, '--today', today);
  await checked(desk, 'nameplate.zip');
});
after(() => desk.stop());

/** Most memory the desk ever held, MB (proc(5): VmHWM). */
const mostMegabytes = () => Number(/VmHWM:\s+(\d+)/.exec(readFileSync(`/proc/${desk.child.pid}/status`, 'utf8'))[1]) / 1024;
const cookie = () => `Cookie: hairline${desk.port}=${desk.token}\r\n`;
const head = (line, more = '') => `${line} HTTP/1.1\r\nHost: 127.0.0.1:${desk.port}\r\n${cookie()}${more}\r\n`;

/** Sends bytes as they are, and gives what comes until the desk closes. */
const raw = (bytes) => new Promise((resolve) => {
  let text = '';
  const socket = connect(desk.port, '127.0.0.1', () => socket.write(bytes));
  socket.on('data', (data) => { text += data.toString('latin1'); });
  socket.on('error', () => {});
  socket.on('close', () => resolve(text));
});
const isThere = async () => assert.equal((await askDesk(desk, '/')).status, 200);

const addresses = ['/', '/desk.js', '/api/jobs', '/api/jobs/nameplate.zip', '/api/jobs/nameplate.zip/page', '/api/jobs/nameplate.zip/report.json',
                   '/api/jobs/nameplate.zip/layers', '/api/jobs/nameplate.zip/layers/35.png?x=0&y=0&w=100&h=100&wide=800&time=0', '/api/records', '/api/records/harbour-grey.json', '/api/night',
                   '/api/events'];

test('without the token, with another Host or Origin nothing is told', async () => {
  for (const path of addresses) {
    assert.equal((await askDesk(desk, path, { headers: { Cookie: '' } })).status, 403, path);
    assert.equal((await askDesk(desk, path, { headers: { Cookie: `hairline${desk.port}=${'0'.repeat(32)}` } })).status, 403, path);
    assert.equal((await askDesk(desk, path, { headers: { Origin: 'http://harbour.example' } })).status, 403, path);
    assert.match(await raw(head(`GET ${path}`, '').replace(`127.0.0.1:${desk.port}`, 'harbour.example')), /^HTTP\/1.1 403 /);
  }
  for (const path of ['/api/stop', '/api/night', '/api/upload?name=x.zip', '/api/jobs/nameplate.zip/check', '/api/jobs/nameplate.zip/outcome'])
    for (const headers of [{ Cookie: '' }, { Origin: 'http://harbour.example' }, { Origin: 'null' }])
      assert.equal((await askDesk(desk, path, { post: {}, headers })).status, 403, path);
  assert.deepEqual(readdirSync(folder).sort(), [...files, 'desk'].sort());
});

test('names that climb lead nowhere', async () => {
  const names = ['..', '.', '%2e%2e', '..%2f..%2fetc%2fpasswd', '%2fetc%2fpasswd', 'desk%2fnight.json', 'a%00b', '%', '%zz', 'desk', '', 'no%20such.zip', '~', '*'];
  const routes = ['/api/jobs/{}', '/api/jobs/{}/page', '/api/jobs/{}/report.json', '/api/jobs/{}/layers', '/api/jobs/{}/layers/1.png', '/api/jobs/{}/thumbnail.png',
                  '/api/records/{}', '/api/records/{}/page', '/api/records/{}/evening', '/api/records/harbour-grey.json/coupons/{}', '/{}'];
  for (const route of routes)
    for (const name of names) {
      if (route.replace('{}', name) === '/') continue;
      const answer = await raw(head(`GET ${route.replace('{}', name)}`, 'Connection: close\r\n'));
      assert.match(answer, /^HTTP\/1.1 4\d\d /, route.replace('{}', name));
      assert.doesNotMatch(answer, /root:/);
    }
  for (const name of ['../../harbour.zip', '/tmp/harbour.zip', '..\\..\\harbour.zip']) {
    const answer = await askDesk(desk, `/api/upload?name=${encodeURIComponent(name)}`, { post: readFileSync(join(demo, 'hull.zip')) });
    assert.equal(answer.status, 200, await answer.text());
  }
  for (const name of readdirSync(folder)) assert.ok([...files, 'desk', 'harbour.zip', 'hull 2.zip'].includes(name), name);
});

test('ten gigabytes, endless chunks, two hundred at once, half-open and slow ones: the desk stays, and stays small', async () => {
  for (const path of ['/api/upload?name=huge.zip', '/api/night', '/api/jobs/nameplate.zip/check'])
    assert.match(await raw(head(`POST ${path}`, 'Content-Length: 10737418240\r\n')), /^HTTP\/1.1 413 /);
  const chunk = `100000\r\n${'x'.repeat(0x100000)}\r\n`;
  assert.doesNotMatch(await raw(head('POST /api/night', 'Transfer-Encoding: chunked\r\n') + chunk.repeat(20)), /^HTTP\/1.1 200 /);
  await isThere();

  const many = await Promise.all(Array.from({ length: 200 }, (_, i) => {
    const path = addresses[i % (addresses.length - 1)];
    return askDesk(desk, path).then(async (answer) => { await answer.arrayBuffer(); return answer.status; }).catch(() => 0);
  }));
  for (const status of many) assert.ok([0, 200, 503].includes(status), status);
  assert.ok(many.filter((status) => status === 200).length >= 50);
  await isThere();

  const open = Array.from({ length: 60 }, (_, i) => {
    const socket = connect(desk.port, '127.0.0.1', () => socket.write(i % 2 ? 'GET / HT' : head('POST /api/night', 'Content-Length: 1000\r\n') + '{'));
    socket.on('error', () => {});
    return socket;
  });
  await isThere();  // beside them
  await Promise.all(open.map((socket) => new Promise((resolve) => socket.on('close', resolve).resume())));
  await isThere();
  assert.ok(mostMegabytes() < 1000, `${mostMegabytes()} MB`);
  assert.ok(!readdirSync(folder).some((name) => name.startsWith('huge') || name.endsWith('.part')));
});

test('a desk killed at twenty moments loses no job and nothing of the night that it took', async () => {
  const place = mkdtempSync(join(demo, 'killed-')), hull = readFileSync(join(demo, 'hull.zip'));
  copyFileSync(join(demo, 'harbour-grey.json'), join(place, 'harbour-grey.json'));
  const taken = [];
  let night = 0;
  for (let round = 0; round < 20; ++round) {
    const one = await startDesk(place, '--today', today);
    setTimeout(() => one.child.kill('SIGKILL'), 12 * round + 4);
    try {
      for (let i = 0; i < 40; ++i) {
        const name = `hull ${round} ${i}.zip`, body = Buffer.concat([hull, Buffer.from(`${round}.${i}`)]);
        const answer = await askDesk(one, `/api/upload?name=${encodeURIComponent(name)}`, { post: body });
        if (answer.ok) taken.push([name, body]);
        const { version, queue } = await (await askDesk(one, '/api/night')).json();
        queue.jobs.push({ file: name, printer: '', exposure_s: null, copies: 1 });
        if ((await askDesk(one, `/api/night?version=${version}`, { post: queue })).ok) night = queue.jobs.length;
      }
    } catch { /* it is gone */ }
    await one.ended;
  }
  assert.ok(taken.length > 20 && night > 20, `${taken.length} ${night}`);
  for (const [name, body] of taken) assert.ok(readFileSync(join(place, name)).equals(body), name);
  const kept = JSON.parse(readFileSync(join(place, 'desk', 'night.json'), 'utf8'));
  assert.ok(kept.jobs.length >= night);
  const last = await startDesk(place, '--today', today);
  const listed = (await (await askDesk(last, '/api/jobs')).json()).jobs.map((job) => job.name);
  for (const [name] of taken) assert.ok(listed.includes(name), name);
  for (const name of listed) assert.ok(readFileSync(join(place, name)).subarray(0, hull.length).equals(hull), `${name} is whole`);
  await last.stop();
});
