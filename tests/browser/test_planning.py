"""Keeping the plan in step with the document, with a server that is made up."""

KEPT = """await (async () => {
  const [{ createStore }, { apply }] = await Promise.all(
    ['store', 'commands'].map((name) => import(`/static/js/core/${name}.js`)));
  const store = createStore({ doc: { name: 'float', artwork: [] }, ticks: [], plan: { busy: true } }, apply);
  const rest = (ms) => new Promise((wake) => { setTimeout(wake, ms); });
  let finish = null;
  const api = {
    plan: async () => ({ id: 'a', state: 'running' }), forget() {}, strokes: async () => null,
    follow: () => new Promise((done) => { finish = done; }),
    planned: async () => ({ id: 'a', state: 'done', report: { findings: [] } }) };
  const kept = m.keepPlanned(store, api);
  while (!finish) await rest(5);
  if (given) store.dispatch({ type: 'put', pointer: '/name', value: given, label: 'name' });
  finish();
  await rest(0);
  const { busy, state } = store.state.plan;
  kept.dispose();
  return [busy, state];
})()"""


def test_a_plan_that_is_done_ends_the_wait(core):
    assert core("../planning", KEPT) == [False, "done"]


def test_a_plan_of_an_older_job_does_not_end_the_wait_for_the_newer(core):
    assert core("../planning", KEPT, "egg") == [True, "done"]
