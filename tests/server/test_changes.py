"""Who follows what changes: told at once, at each change, in between that all is well, and of the last one always."""

import asyncio

from server.changes import Changes


def test_a_follower_hears_the_first_the_last_and_a_heartbeat_between():
    async def play():
        changes = Changes()
        seen = []

        async def follow():
            async for changed in changes.follow(heartbeat_s=0.01):
                seen.append((changed, changes.count))

        following, waiting = asyncio.create_task(follow()), asyncio.create_task(changes.end())
        while (False, 0) not in seen:
            await asyncio.sleep(0.005)
        assert not waiting.done()
        changes.note()
        changes.note()
        while (True, 2) not in seen:
            await asyncio.sleep(0.005)
        changes.note(over=True)
        await asyncio.gather(following, waiting)
        return seen

    seen = asyncio.run(asyncio.wait_for(play(), 30))
    assert seen[0] == (True, 0) and seen[-1] == (True, 3)
    assert [count for changed, count in seen if changed] == [0, 2, 3]  # the one between was skipped


def test_who_comes_late_hears_the_last():
    async def play():
        changes = Changes()
        changes.note(over=True)
        await changes.end()
        return [changed async for changed in changes.follow(heartbeat_s=60)]

    assert asyncio.run(asyncio.wait_for(play(), 30)) == [True]
