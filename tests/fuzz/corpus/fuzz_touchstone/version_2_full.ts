[Version] 2.0
# MHz Z DB R 50
[Number of Ports] 1
[Number of Frequencies] 2
[Reference]
20.0
[Matrix Format] Full
[Begin Information]
text
[End Information]
[Network Data]
1 20 3
2 21 4
[End]
