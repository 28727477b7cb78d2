"""Counts the dots of a PNG (8 bits, red green blue alpha, not interlaced; W3C's PNG, section 9) that are not clear."""
import struct
import sys
import zlib

data = open(sys.argv[1], "rb").read()
at, packed = 8, b""
while at < len(data):
    length, kind = struct.unpack(">I4s", data[at : at + 8])
    body = data[at + 8 : at + 8 + length]
    if kind == b"IHDR":
        width, height, depth, colour, _, _, interlaced = struct.unpack(">IIBBBBB", body)
        assert (depth, colour, interlaced) == (8, 6, 0), (depth, colour, interlaced)
    elif kind == b"IDAT":
        packed += body
    at += 12 + length
rows, stride, above, count = zlib.decompress(packed), 4 * width, bytearray(4 * width), 0
for y in range(height):
    way = rows[y * (stride + 1)]
    row = bytearray(rows[y * (stride + 1) + 1 : (y + 1) * (stride + 1)])
    for i in range(stride):
        left = row[i - 4] if i >= 4 else 0
        up, corner = above[i], above[i - 4] if i >= 4 else 0
        if way == 1:
            add = left
        elif way == 2:
            add = up
        elif way == 3:
            add = (left + up) // 2
        elif way == 4:
            guess = left + up - corner
            add = min((left, up, corner), key=lambda v: abs(guess - v))
        else:
            add = 0
        row[i] = (row[i] + add) & 255
    count += sum(1 for i in range(3, stride, 4) if row[i] > 127)
    above = row
print(count)
