"""The same program without signal, inside the phone's browser.

On a server, ``serving.attach`` adds what a phone needs: the kit to fetch (Python runtime, pack,
pages), and the exchange of entries. On a phone, ``engine`` answers in the server's place.
"""
