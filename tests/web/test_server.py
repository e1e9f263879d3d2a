"""The socket that is served on."""

from __future__ import annotations

import asyncio
import socket

from bandwright.web.server import listen


def test_a_small_answer_does_not_wait_until_the_one_before_was_acknowledged():
    """What waits is Nagle's algorithm (RFC 896); RFC 1122, 4.2.3.4, asks for a way to switch it off."""

    async def accepted() -> int:
        loop = asyncio.get_running_loop()
        came: asyncio.Future[socket.socket] = loop.create_future()

        class Peer(asyncio.Protocol):
            def connection_made(self, transport: asyncio.BaseTransport) -> None:
                came.set_result(transport.get_extra_info("socket"))

        with listen(port=0, lan=False) as listening:
            server = await loop.create_server(Peer, sock=listening)
            _, writer = await asyncio.open_connection(*listening.getsockname())
            off: int = (await came).getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
            writer.close()
            await writer.wait_closed()
            server.close()
            return off

    assert asyncio.run(accepted())
