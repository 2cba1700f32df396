"""Something that changes, told as server-sent events."""

import json
from collections.abc import AsyncIterator, Callable, Mapping
from typing import Any

from starlette.responses import StreamingResponse

from server.changes import Changes

__all__ = ["event_stream"]


def event_stream(changes: Changes, state: Callable[[], Mapping[str, Any]], *, heartbeat_s: float) -> StreamingResponse:
    """What `state` gives as server-sent events, one at each change, numbered, until it is over."""

    async def events() -> AsyncIterator[str]:
        yield "retry: 2000\n\n"
        async for changed in changes.follow(heartbeat_s=heartbeat_s):
            if changed:
                yield f"id: {changes.count}\ndata: {json.dumps(state(), allow_nan=False)}\n\n"
            else:
                yield ": still here\n\n"

    return StreamingResponse(events(), media_type="text/event-stream", headers={"X-Accel-Buffering": "no"})
